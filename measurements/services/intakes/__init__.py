"""Intakes: many files of a night, stored first and turned into tests by a worker."""
