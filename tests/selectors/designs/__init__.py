"""Tests of reads about designs."""
