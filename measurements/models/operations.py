"""Who did what, when. Append-only: migration 0006 puts triggers on the table that refuse to change a row.

A later migration that alters this table on SQLite makes it anew and must put the triggers on again.
"""

from __future__ import annotations

from django.db import models

# writes after which the public may be shown something else of designs and reference data
CATALOGUE_ACTIONS = (
    "band.change",
    "band.end",
    "benchmark.change",
    "conductor.add",
    "core.name",
    "design.merge",
    "design.register",
    "design.rename",
    "group_setting.change",
    "group_setting.reset",
    "pool.fetch",
    "pool.leave",
    "reference.load",
    "release.make",
)


class AuditEntry(models.Model):
    """One write. `actor` is the account's name at the time, so that it outlives the account."""

    at = models.DateTimeField(auto_now_add=True)
    actor = models.CharField(max_length=64)
    action = models.CharField(max_length=48)
    subject = models.CharField(max_length=64)
    detail = models.JSONField(default=dict)

    class Meta:
        indexes = [
            models.Index(
                fields=["id"], condition=models.Q(action__in=CATALOGUE_ACTIONS), name="audit_of_the_catalogue"
            )
        ]


# Counts for the digest of stewards are rows of UseCount too: key `digest:event:what:mark`, one window a day.
DIGEST_PREFIX = "digest:"
SIGN_IN, SIGN_IN_REFUSED, REQUEST_REFUSED = "in", "out", "no"

# Counts behind every rate limit: one row per key and window, changed by one atomic statement.


class UseCount(models.Model):
    """How often `key` was used in the window that began at `window` (a Unix time in seconds)."""

    key = models.CharField(max_length=128)
    window = models.BigIntegerField()
    uses = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["key", "window"], name="use_count_once")]
