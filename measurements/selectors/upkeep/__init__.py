"""Reads of upkeep: service states, due devices, inspections, fault searches, photos."""
