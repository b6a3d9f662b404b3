"""Wiring drawings, made by code: one for every file that a test needs.

A scene says which terminals are joined (`scene.py`), symbols draw themselves into it (`symbols.py`), and the
writer makes an SVG of it (`svg.py`). `catalogue.drawing(kind, method, role)` is the way in.
"""
