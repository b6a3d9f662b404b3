"""Detect input that is not what it was filed as: a table of detectors, one flag each."""
