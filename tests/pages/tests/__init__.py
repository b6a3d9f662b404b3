"""Tests of the pages about recorded tests."""
