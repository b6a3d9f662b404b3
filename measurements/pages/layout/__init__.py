"""Shared page furniture: rendering, errors, forms, wording, tables, charts."""
