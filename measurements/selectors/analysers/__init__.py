"""Reads of the analysers that a member described: the owner's own alone."""
