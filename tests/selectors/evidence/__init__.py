"""Tests of reads about evidence."""
