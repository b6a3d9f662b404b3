"""Predictions, proposals and identification from the tables and the current release."""
