"""Tests of writes about releases."""
