"""Tests of reads about predictions."""
