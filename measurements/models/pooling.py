"""The pool of groups, seen from a group: its seat, what it sent, and its copy of the pooled evidence.

The tables of the server that keeps a pool are in `kept_pools.py`.
"""

from __future__ import annotations

from django.db import models

from measurements.models.designs import Design


class PoolSeat(models.Model):
    """This group's place in a pool; one that was left stays, with `left_at` and not `is_open`.

    keeper_address: where the keeper answers. keeper_key: its public key, in hexadecimal. source: address of
    the pooled releases, the keeper's own or a copy's. last_number, last_sha256: of the last sending that the
    keeper took. standing: what the keeper said of this group alone, see `services.pooling.sendings`.
    """

    keeper_address = models.CharField(max_length=200)
    keeper_key = models.CharField(max_length=64)
    source = models.CharField(max_length=200, blank=True)
    group_name = models.CharField(max_length=64)
    joined_at = models.DateTimeField(auto_now_add=True)
    left_at = models.DateTimeField(null=True)
    is_open = models.BooleanField(default=True)
    last_number = models.PositiveIntegerField(default=0)
    last_sha256 = models.CharField(max_length=64, blank=True)
    last_sent_at = models.DateTimeField(null=True)
    last_problem = models.CharField(max_length=300, blank=True)
    standing = models.JSONField(default=dict)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["is_open"], condition=models.Q(is_open=True), name="pool_seat_one_open"
            )
        ]


class SentVote(models.Model):
    """A vote that was ever sent to a pool, in the random keys of the private ledger (`models.ledger`).

    person, device, vote: pseudonyms, random for this design; no other design of the person has the same.
    standing: it was in the last sending.
    """

    design = models.ForeignKey(Design, on_delete=models.PROTECT, related_name="sent_votes")
    kind = models.CharField(max_length=16)
    contributor_key = models.CharField(max_length=12, db_index=True)
    device_key = models.CharField(max_length=12)
    test_key = models.CharField(max_length=12, db_index=True)
    person = models.CharField(max_length=32)
    device = models.CharField(max_length=32)
    vote = models.CharField(max_length=32, unique=True)
    standing = models.BooleanField(default=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["design", "kind", "test_key"], name="sent_vote_once_per_test")
        ]


class PoolCopy(models.Model):
    """The last pooled release that was fetched and verified. number: of the pool's releases.

    manifest: its `datapackage.json` as it came. gained: how many designs have a verdict with it and without.
    """

    number = models.PositiveIntegerField(unique=True)
    manifest = models.JSONField()
    made_at = models.DateTimeField()
    fetched_at = models.DateTimeField(auto_now_add=True)
    gained = models.JSONField(default=dict)


class PoolCopyRow(models.Model):
    """One design on one band of the pooled release. figures: as the release publishes them."""

    copy = models.ForeignKey(PoolCopy, on_delete=models.CASCADE, related_name="rows", db_index=False)
    recipe_sha256 = models.CharField(max_length=64)
    kind = models.CharField(max_length=16)
    band = models.CharField(max_length=8)
    figures = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["copy", "recipe_sha256", "kind", "band"], name="pool_copy_row_once"
            )
        ]
