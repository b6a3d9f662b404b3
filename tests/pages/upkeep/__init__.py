"""Tests of the pages about upkeep."""
