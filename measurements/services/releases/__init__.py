"""Releases: decisions, evidence, files, and learning from them."""
