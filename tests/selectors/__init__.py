"""Tests of every read, a folder per feature."""
