"""Uploads: form, checked result, saving."""
