"""The private ledger: whose votes stand behind a published cell. Never joined to evidence rows.

Needed so that two releases never differ by one person, and so that an owner can see what is
published of it. It holds random keys, not references, because it outlives tests and accounts.
"""

from django.db import models

from measurements.models.evidence import Cell


class PublishedVote(models.Model):
    """One device's vote behind a cell."""

    cell = models.ForeignKey(Cell, on_delete=models.CASCADE, related_name="votes")
    contributor_key = models.CharField(max_length=12, db_index=True)
    device_key = models.CharField(max_length=12)
    test_key = models.CharField(max_length=12, db_index=True)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["cell", "device_key"], name="vote_once_per_device")]
