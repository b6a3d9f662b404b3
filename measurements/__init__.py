"""Benchnight: bench tests of baluns, ununs and common-mode chokes, and the evidence they make.

Rooms, from the ground up: errors, rf, verdict and disclosure (pure); models; ingest (writes) and
queries (reads); charts; pages and management (doors). DEVELOPERS.md explains the cuts.
"""
