"""Analysers as their owners describe them once."""

from django.db import models

from measurements.models.accounts import Member
from measurements.models.keys import new_key


class DescribedAnalyser(models.Model):
    """An instrument of one account; it never leaves the account.

    stated: what the owner says of it (fields of the contract's `analyser`). measured: bounds that check
    sweeps showed, {} before any. description: what a budget takes, made from both. The sweeps are forgotten.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    member = models.ForeignKey(Member, on_delete=models.CASCADE, related_name="analysers")
    name = models.CharField(max_length=64)
    calibration = models.CharField(max_length=200, blank=True)
    stated = models.JSONField(default=dict)
    measured = models.JSONField(default=dict)
    description = models.JSONField(default=dict)
    checked_on = models.DateField(null=True)
    described_at = models.DateTimeField(auto_now_add=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["member", "name"], name="analyser_name_once_per_account")
        ]
