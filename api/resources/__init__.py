"""Views by resource: each reads its input, calls one function of the rooms below and renders the result."""
