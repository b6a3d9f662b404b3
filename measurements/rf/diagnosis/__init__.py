"""Explain what differs: outlying curves, unmarked cores, windings off their recipe."""
