"""Compute the figures of each kind of test, one module a kind."""
