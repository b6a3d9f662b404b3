"""Counts behind every rate limit: one row per key and window, changed by one atomic statement."""

from django.db import models


class UseCount(models.Model):
    """How often `key` was used in the window that began at `window` (a Unix time in seconds)."""

    key = models.CharField(max_length=128)
    window = models.BigIntegerField()
    uses = models.PositiveIntegerField(default=0)

    class Meta:
        constraints = [models.UniqueConstraint(fields=["key", "window"], name="use_count_once")]
