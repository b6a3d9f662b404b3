"""Tests of writes about club nights."""
