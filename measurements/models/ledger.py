"""The private ledger: whose votes stand behind a published cell. Never joined to evidence rows.

Needed so that two releases never differ by one person, and so that an owner can see what is
published of it. It holds random keys, not references, because it outlives tests and accounts.
"""

from __future__ import annotations

from collections.abc import Collection

from django.db import models

from measurements.models.designs import Design
from measurements.models.evidence import Cell
from measurements.models.tests import Test


class PublishedVoteQuerySet(models.QuerySet["PublishedVote"]):
    """Votes by what became of them."""

    def without_test(self, among: Collection[str] | None = None) -> PublishedVoteQuerySet:
        """Those whose test is no more: its owner has withdrawn it.

        among: keys of the tests to ask about; None: every test that ever voted.
        """
        # not `exclude(test_key__in=...)`: PostgreSQL would hold every vote against a list of all tests
        still = Test.objects.filter(key=models.OuterRef("test_key"))
        asked = self if among is None else self.filter(test_key__in=among)
        return asked.filter(~models.Exists(still))


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


# What a design's candidates looked like when a release last decided about it, and what has changed since.
#
# `EvidenceChange` and `MovedDevice` are written by triggers (migration 0012), so that no way of writing
# passes
# them by. SQLite loses a table's triggers when a migration alters it: see `migrations/_evidence_triggers.py`.


class DecisionMark(models.Model):
    """Where nothing that a decision rests on has changed since, it need not be made again.

    mark: a fingerprint of the tests that could vote. action: what was decided.
    """

    design = models.OneToOneField(Design, on_delete=models.CASCADE, primary_key=True, related_name="mark")
    mark = models.CharField(max_length=96)
    action = models.CharField(max_length=8)


class EvidenceChange(models.Model):
    """Something that decisions about a design rest on has changed; the next release takes the row.

    design_id, device_id: of which design, or of the design of which device; plain numbers, because what they
    lead to may be gone. test_key: a test that may be gone. A row with none of these: look at everything.
    """

    design_id = models.BigIntegerField(null=True)
    device_id = models.BigIntegerField(null=True)
    test_key = models.CharField(max_length=12, blank=True)


class MovedDevice(models.Model):
    """A device that was moved to another design: designs that published tests of it share a past."""

    device_key = models.CharField(max_length=12)
