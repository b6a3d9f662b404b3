"""Upkeep: inspections, fault searches, photos, due devices, baselines, calendar."""
