"""Who did what, when. Append-only: migration 0006 puts triggers on the table that refuse to change a row.

A later migration that alters this table on SQLite makes it anew and must put the triggers on again.
"""

from django.db import models

# writes after which the public may be shown something else of designs and reference data
OF_THE_CATALOGUE = (
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
                fields=["id"], condition=models.Q(action__in=OF_THE_CATALOGUE), name="audit_of_the_catalogue"
            )
        ]
