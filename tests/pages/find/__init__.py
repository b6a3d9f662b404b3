"""Tests of the look-up on the first page."""
