"""Tests of the pages about predictions."""
