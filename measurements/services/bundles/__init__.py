"""Bundles: a night, a member or a whole group in one signed file, out of one server and into another."""
