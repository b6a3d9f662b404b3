"""Designs: recipes in normal form, their cores, and merging."""
