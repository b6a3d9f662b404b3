"""Reads of devices."""
