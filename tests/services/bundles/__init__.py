"""Tests of writes about intakes."""
