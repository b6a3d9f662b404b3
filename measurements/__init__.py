"""Benchnight: bench tests of baluns, ununs and common-mode chokes, and the evidence they make.

Rooms, from the ground up: errors, rf, verdict, fitness and disclosure (pure); models; services (writes) and
selectors (reads); charts; pages and management (doors). DEVELOPERS.md explains the cuts.
"""
