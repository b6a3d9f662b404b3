"""Reads of the pool of groups: this group's seat and copy, and what a keeper serves."""
