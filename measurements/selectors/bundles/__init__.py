"""Reads of imports that came over the network."""
