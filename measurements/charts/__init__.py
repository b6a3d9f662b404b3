"""Rows and traces in, Vega-Lite specifications out; SVG and PNG from the same specification.

Both doors draw from here, so that a page, a file and the API show one picture. No tables are
reached from here. Start reading at `design_chart.py` and `rendering.py`.
"""
