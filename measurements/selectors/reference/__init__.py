"""Reads of reference data and of the group's settings."""
