"""Tests of reads about accounts."""
