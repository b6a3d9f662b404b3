"""The private ledger: whose votes stand behind a published cell. Never joined to evidence rows.

Needed so that two releases never differ by one person, and so that an owner can see what is
published of it. It holds random keys, not references, because it outlives tests and accounts.
"""

from __future__ import annotations

from django.db import models

from measurements.models.evidence import Cell
from measurements.models.tests import Test


class PublishedVoteQuerySet(models.QuerySet["PublishedVote"]):
    """Votes by what became of them."""

    def without_test(self) -> PublishedVoteQuerySet:
        """Return those whose test is no more: its owner has withdrawn it."""
        # not `exclude(test_key__in=...)`: PostgreSQL would hold every vote against a list of all tests
        still = Test.objects.filter(key=models.OuterRef("test_key"))
        return self.filter(~models.Exists(still))


class PublishedVote(models.Model):
    """One device's vote behind a cell."""

    # the constraint's index begins with the cell
    cell = models.ForeignKey(Cell, on_delete=models.CASCADE, related_name="votes", db_index=False)
    contributor_key = models.CharField(max_length=12, db_index=True)
    device_key = models.CharField(max_length=12)
    test_key = models.CharField(max_length=12, db_index=True)

    objects = PublishedVoteQuerySet.as_manager()

    class Meta:
        indexes = [models.Index(fields=["device_key"], name="vote_of_device")]
        constraints = [models.UniqueConstraint(fields=["cell", "device_key"], name="vote_once_per_device")]
