"""Tests of the pages about designs."""
