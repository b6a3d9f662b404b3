"""Intakes: many files of a night at once."""
