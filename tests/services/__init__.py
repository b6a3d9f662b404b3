"""Tests of every write, a folder per feature."""
