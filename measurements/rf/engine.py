"""The version of the arithmetic: a stored result names the engine that computed it.

Raise it whenever a figure of an unchanged sweep could change; `recompute` then adds new rows.
"""

ENGINE_VERSION = "1.0.0"
