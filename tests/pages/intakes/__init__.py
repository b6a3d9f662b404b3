"""Tests of the pages about intakes."""
