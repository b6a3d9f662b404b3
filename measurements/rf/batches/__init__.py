"""Analyse many common-mode sweeps of one frequency list at once."""
