"""Tests of the jig, of residual errors and of checks on sweeps."""
