"""Tests of reads about upkeep."""
