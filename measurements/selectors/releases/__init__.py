"""Reads of releases and their files."""
