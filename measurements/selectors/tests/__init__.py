"""Reads of tests: files, traces, comparison with the evidence, review."""
