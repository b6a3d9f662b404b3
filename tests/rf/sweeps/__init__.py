"""Tests of reading, checking and writing sweeps."""
