"""Tests of reads about recorded tests."""
