"""Tests of writes about upkeep."""
