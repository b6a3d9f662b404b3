"""Reads of designs: look-up, families, similar designs, candidates to merge."""
