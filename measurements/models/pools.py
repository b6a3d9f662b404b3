"""What a release computed over many designs at once, and whose votes stand behind it."""

from __future__ import annotations

from django.db import models

from measurements.models.releases import Release


class PublishedPool(models.Model):
    """One aggregate over many designs, kept from release to release until enough persons joined it.

    name: see `services.releases.pools`. figures: what it publishes. A pool without rows in `PoolVote` was
    made of the cells that were open at its release.
    """

    name = models.CharField(max_length=24)
    release = models.PositiveIntegerField()
    figures = models.JSONField(default=dict)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["name", "release"], name="pool_once_per_release")]


class PoolVote(models.Model):
    """One test behind a pool, in the random keys of the private ledger (`models.ledger`)."""

    # the constraint's index begins with the pool
    pool = models.ForeignKey(PublishedPool, on_delete=models.CASCADE, related_name="votes", db_index=False)
    contributor_key = models.CharField(max_length=12, db_index=True)
    device_key = models.CharField(max_length=12)
    test_key = models.CharField(max_length=12)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["pool", "test_key"], name="pool_vote_once")]


class ReleaseAnswer(models.Model):
    """An answer that a release computed for one circle ("public" or "members"), served as it is.

    name: what it answers, see `services.releases.release_answers`. content: rows as that circle may see them.
    """

    release = models.ForeignKey(Release, on_delete=models.CASCADE, related_name="answers")
    circle = models.CharField(max_length=8)
    name = models.CharField(max_length=24)
    content = models.JSONField()

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["release", "circle", "name"], name="answer_once_per_release")
        ]
