"""Sweeps in, figures out.

Here: reading sweep files, the arithmetic of every kind of test, bands, flags, the physics of a
winding. Only numpy, scipy and scikit-rf; no Django, no clock, no files but bytes.
Start reading at `analysis.py` (the one entry point) and `sweeps/sweep.py` (the one data type).
"""
