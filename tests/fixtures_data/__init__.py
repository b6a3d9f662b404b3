"""Tests over the data files under fixtures/: reference rows and sample sweeps."""
