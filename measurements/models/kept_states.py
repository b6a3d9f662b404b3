"""Service states as they were last judged, and the changes since, which triggers note.

A state is derived: both tables may be emptied at any time, and copies leave them out. Triggers of migration
0030 add a row of `StateChange` in the transaction of whatever a state rests on. So a state that was judged
before a change never passes for one that was judged after it, whoever made the change and however.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date

from django.db import models
from django.db.models import BooleanField, Exists, ExpressionWrapper, OuterRef, Q

from measurements.models.designs import Device


class DeviceState(models.Model):
    """The service state of a device as it was judged on `judged_on`.

    codes: of its reasons, the gravest first. reason, next_step: the gravest one and what to do, in words.
    next_change_on: the first day on which the state may change by itself; None where it never does.
    standard: digest of limits, intervals and rules that it was judged by. repeats: kind -> digest of how well
    tests of that kind repeat, for the kinds that the judging used; empty where it used none. pool: row number
    of the group's published repeatability then; 0 where there was none.
    """

    device = models.OneToOneField(Device, on_delete=models.CASCADE, related_name="kept_state")
    state = models.CharField(max_length=16, db_index=True)
    codes = models.JSONField(default=list)
    reason = models.TextField()
    next_step = models.TextField()
    due_on = models.DateField(null=True)
    newest_on = models.DateField(null=True)
    next_change_on = models.DateField(null=True)
    judged_on = models.DateField()
    standard = models.CharField(max_length=16)
    repeats = models.JSONField(default=dict)
    asks_repeats = models.BooleanField(default=False)
    pool = models.BigIntegerField(default=0)


class StateChange(models.Model):
    """Something changed on which a state rests. Triggers alone write it.

    device_number: the device's own facts. contributor_number: how well the owner's tests repeat, which may
    touch every device of this owner. One of the two is set. Plain numbers: the row may outlive both.
    """

    device_number = models.BigIntegerField(null=True, db_index=True)
    contributor_number = models.BigIntegerField(null=True, db_index=True)


@dataclass(frozen=True)
class JudgingStandard:
    """What a kept state has to fit to be good now: digest of the rules, day, published pool."""

    digest: str
    on: date
    pool: int


def build_state_waiting_condition(standard: JudgingStandard) -> Q:
    """Return the rows of Device without a kept state that is good now."""
    changed = StateChange.objects.filter(device_number=OuterRef("pk"))
    repeats = StateChange.objects.filter(contributor_number=OuterRef("contributor_id"))
    return (
        Q(kept_state=None)
        | ~Q(kept_state__standard=standard.digest)
        | Q(kept_state__next_change_on__lte=standard.on)
        | Q(kept_state__judged_on__gt=standard.on)
        | Q(Exists(changed))
        | (Q(kept_state__asks_repeats=True) & (~Q(kept_state__pool=standard.pool) | Q(Exists(repeats))))
    )


def build_state_waiting_flag(standard: JudgingStandard) -> ExpressionWrapper:
    """Return the same as a column."""
    return ExpressionWrapper(build_state_waiting_condition(standard), output_field=BooleanField())
