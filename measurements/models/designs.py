"""Designs (recipes) and the devices that were built to them."""

from __future__ import annotations

from django.db import models

from measurements.models.accounts import Contributor
from measurements.models.keys import new_key


class DesignQuerySet(models.QuerySet["Design"]):
    """Designs that stand, and the way from one that was merged to the one it was merged into."""

    def standing(self) -> DesignQuerySet:
        """Return those that were not merged into another."""
        return self.filter(merged_into=None)

    def reached(self, key: str) -> Design | None:
        """Return the design of this key, or the one that it was merged into; None where there is none."""
        found = self.select_related("merged_into").filter(key=key).first()
        return found.merged_into or found if found is not None else None


class Design(models.Model):
    """A recipe that devices share. `recipe_sha256` of its normal form makes equal builds meet.

    The columns after `title` repeat parts of the recipe so that look-ups can filter on them.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    recipe = models.JSONField()
    recipe_sha256 = models.CharField(max_length=64, unique=True)
    title = models.CharField(max_length=200)
    purpose = models.CharField(max_length=8)
    principle = models.CharField(max_length=8)
    ratio = models.CharField(max_length=16)
    mix = models.CharField(max_length=16, blank=True)
    core = models.CharField(max_length=64)
    core_count = models.PositiveSmallIntegerField()
    turns = models.PositiveSmallIntegerField()
    style = models.CharField(max_length=16)
    # set by a steward who found two spellings of one design: its devices count with the other one,
    # which is never itself a merged one
    merged_into = models.ForeignKey("self", null=True, on_delete=models.PROTECT, related_name="merged")

    objects = DesignQuerySet.as_manager()

    class Meta:
        indexes = [
            models.Index(fields=["purpose", "ratio"], name="design_purpose_ratio"),
            models.Index(fields=["mix", "turns"], name="design_mix_turns"),
        ]


class Device(models.Model):
    """One physical balun, unun or choke, with a tag on it. `version` makes its strong ETag.

    place: where it is in service. baseline: the test of its commissioning. retired_on: out of service for
    good; nothing is due. is_check_standard: it is the group's check standard now (`CheckStandard`) and has
    no vote.
    design: None while its build is not known; it counts for no design then. kind, ratio, make: what its owner
    wrote of it meanwhile. voter: whose votes its tests are, where it changed hands: the first owner's, for
    good.
    """

    class Origin(models.TextChoices):
        HOMEBREW = "homebrew"
        COMMERCIAL = "commercial"

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    contributor = models.ForeignKey(Contributor, on_delete=models.PROTECT, related_name="devices")
    design = models.ForeignKey(Design, null=True, on_delete=models.PROTECT, related_name="devices")
    # protected: without it the votes would pass to whoever has the device now
    voter = models.ForeignKey(Contributor, null=True, on_delete=models.PROTECT, related_name="voting_devices")
    kind = models.CharField(max_length=64, blank=True, default="", db_default="")
    ratio = models.CharField(max_length=16, blank=True, default="", db_default="")
    make = models.CharField(max_length=120, blank=True, default="", db_default="")
    tag = models.CharField(max_length=64)
    origin = models.CharField(max_length=10, choices=Origin, default=Origin.HOMEBREW)
    built_on = models.DateField(null=True)
    notes = models.TextField(blank=True)
    registered_at = models.DateTimeField(auto_now_add=True)
    place = models.CharField(max_length=120, blank=True)
    baseline = models.ForeignKey("Test", null=True, on_delete=models.SET_NULL, related_name="+")
    retired_on = models.DateField(null=True)
    is_check_standard = models.BooleanField(default=False, db_default=False)
    version = models.PositiveIntegerField(default=1)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["contributor", "tag"], name="device_tag_once_per_contributor")
        ]
