"""Tests of reads about devices."""
