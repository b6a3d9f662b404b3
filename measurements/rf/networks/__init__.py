"""Algebra of two-ports, three-ports and series impedances."""
