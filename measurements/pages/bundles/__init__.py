"""Bundles: one brought here, with what it would change, and one taken along."""
