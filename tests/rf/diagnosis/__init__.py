"""Tests of causes behind a curve and of identified cores."""
