"""Tests of the kinds of test, one module each."""
