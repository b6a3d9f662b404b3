"""Tests of reads about club nights."""
