"""Writes of the pool of groups: a group's sendings and copies; the keeper's groups, records and releases."""
