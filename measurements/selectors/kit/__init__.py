"""Reads of kit: hand-overs, loans, tables, what is due by place."""
