"""Reads of intakes."""
