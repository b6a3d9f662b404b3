"""Designs: catalogue, design page, comparison, heat map of families."""
