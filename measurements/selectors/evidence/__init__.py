"""Reads of the published evidence: rows, verdicts, curves, cached answers."""
