"""Compute insertion loss, one module a method, and choose the method."""
