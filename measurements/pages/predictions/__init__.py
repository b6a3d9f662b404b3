"""Predictions: proposed windings, single windings, core identification."""
