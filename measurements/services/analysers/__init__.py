"""Analysers that members describe once: what a budget takes of them, and check sweeps."""
