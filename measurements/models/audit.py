"""Who did what, when. Append-only for the application."""

from django.db import models


class AuditEntry(models.Model):
    """One write. `actor` is the account's name at the time, so that it outlives the account."""

    at = models.DateTimeField(auto_now_add=True)
    actor = models.CharField(max_length=64)
    action = models.CharField(max_length=48)
    subject = models.CharField(max_length=64)
    detail = models.JSONField(default=dict)
