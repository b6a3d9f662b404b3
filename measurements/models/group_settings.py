"""What stewards set for their group while it runs; what is not here is at its house default."""

from django.db import models


class GroupSetting(models.Model):
    """One setting that a steward changed. value: a number, as its rule in `ingest` allows."""

    name = models.CharField(max_length=48, primary_key=True)
    value = models.JSONField()
    changed_at = models.DateTimeField(auto_now=True)
