"""Upkeep of devices: inspections, due marks, fault searches, photos, calendar feeds."""
