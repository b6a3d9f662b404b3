"""Check standards: the devices that a group sweeps to see whether a bench still is what it was."""

from __future__ import annotations

from django.db import models
from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q, QuerySet

from measurements.models.accounts import Member
from measurements.models.designs import Device
from measurements.models.keys import new_key
from measurements.models.nights import Night
from measurements.models.tests import Test

SWEEP_COLUMNS = (
    "key",
    "kind",
    "measured_on",
    "recorded_at",
    "recorded_by",
    "recorded_by__name",
    "night__key",
    "night__instrument",
    "night__jig",
    "results__figures",
)


class CheckStandard(models.Model):
    """A device as the group's check standard, from when it was marked until that ended.

    counts_from: its sweeps count from that day on; None: all of them.
    """

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    device = models.ForeignKey(Device, on_delete=models.CASCADE, related_name="standards")
    marked_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    marked_at = models.DateTimeField(auto_now_add=True)
    counts_from = models.DateField(null=True)
    ended_at = models.DateTimeField(null=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(
                fields=["device"], condition=Q(ended_at=None), name="check_standard_once_per_device"
            )
        ]

    def query_sweeps(self) -> QuerySet[Test, tuple[object, ...]]:
        """Return `SWEEP_COLUMNS` of its tests in their order: reads and writes judge the same sweeps."""
        tests = self.device.tests.filter(results__current=True)
        if self.counts_from is not None:
            tests = tests.filter(measured_on__gte=self.counts_from)
        return tests.order_by("measured_on", "recorded_at", "pk").values_list(*SWEEP_COLUMNS)


class CheckHold(models.Model):
    """A sweep of a check standard that was out of control: the tests of its session wait while this is open.

    The session is `night`, or what `recorded_by` measured on `measured_on` outside nights.
    findings: per band outside its limits `{"band", "value", "mean", "low", "high"}`. advice: what to look at.
    ended_how: a later sweep in control, another sweep that was out too, or an operator's decision with its
    reason. standard: None once its device is gone; the tests wait all the same.
    """

    class Ended(models.TextChoices):
        IN_CONTROL = "in_control"
        SWEPT_AGAIN = "swept_again"
        DECISION = "decision"

    key = models.CharField(max_length=12, unique=True, default=new_key, editable=False)
    standard = models.ForeignKey(CheckStandard, null=True, on_delete=models.SET_NULL, related_name="holds")
    test_key = models.CharField(max_length=12)
    kind = models.CharField(max_length=16)
    method = models.CharField(max_length=20)
    night = models.ForeignKey(Night, null=True, on_delete=models.CASCADE, related_name="holds")
    recorded_by = models.ForeignKey(Member, null=True, on_delete=models.CASCADE, related_name="+")
    measured_on = models.DateField()
    findings = models.JSONField()
    advice = models.TextField()
    made_at = models.DateTimeField(auto_now_add=True)
    ended_at = models.DateTimeField(null=True)
    ended_how = models.CharField(max_length=12, choices=Ended, blank=True, default="")
    ended_by = models.ForeignKey(Member, null=True, on_delete=models.SET_NULL, related_name="+")
    reason = models.TextField(blank=True)

    class Meta:
        constraints = [
            models.UniqueConstraint(fields=["standard", "test_key"], name="check_hold_once_per_sweep")
        ]
        indexes = [
            models.Index(fields=["measured_on"], condition=Q(ended_at=None), name="check_hold_open"),
        ]


UNCHECKED_KINDS = ("dc",)  # an ohmmeter is neither analyser nor jig


def build_waiting_condition(test: str = "") -> Q:
    """Return the rows whose test waits for an out-of-control session. test: path to it, such as `test__`."""
    held = CheckHold.objects.filter(ended_at=None)
    of_night = Exists(held.filter(night=OuterRef(f"{test}night")))
    of_day = Exists(
        held.filter(
            night=None, recorded_by=OuterRef(f"{test}recorded_by"), measured_on=OuterRef(f"{test}measured_on")
        )
    )
    waits = Q(of_night) | (Q(**{f"{test}night": None}) & Q(of_day))
    return waits & ~Q(**{f"{test}kind__in": UNCHECKED_KINDS})


def build_waiting_flag(test: str = "") -> ExpressionWrapper:
    """Return the same as a column."""
    return ExpressionWrapper(build_waiting_condition(test), output_field=BooleanField())
