"""Reads of club nights."""
