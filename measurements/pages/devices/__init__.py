"""Devices: list, page, report, printed cards and labels."""
