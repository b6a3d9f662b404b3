"""Tests of writes about reference data."""
