"""Tests of writes about recorded tests."""
