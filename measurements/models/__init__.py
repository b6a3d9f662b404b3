"""Tables, constraints and indexes; no rules, no signals, no save() override.

Only `ingest` (writes) and `queries` (reads) import this room. Django needs every model importable
from here; that is the only reason for the list below. Start reading at `testing.py`.
"""
