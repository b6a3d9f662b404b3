"""Inspections and service states: what is sent, what is shown."""

from __future__ import annotations

from rest_framework import serializers

from api.shown import Shown, key_field, number, words
from api.strict import Number, StrictSerializer, Text
from measurements.ingest.inspections import MOST_NOTE, MOST_NOTES, MOST_OHM
from measurements.verdict.checklist import ITEMS, STATES
from measurements.verdict.service_facts import STATES as SERVICE_STATES

WEIGHTS = (*SERVICE_STATES[:-1], "note")


class FindingInput(StrictSerializer):
    """The answer to one item of the check list."""

    state = serializers.ChoiceField(STATES)
    note = Text(required=False, allow_blank=True, default="", max_length=MOST_NOTE)


class FindingsInput(StrictSerializer):
    """Items that are not named were not looked at."""


for _item in ITEMS:
    FindingsInput._declared_fields[_item.code] = FindingInput(required=False, help_text=_item.look)


class InspectionInput(StrictSerializer):
    """A look at a device. The same one sent again answers with the first."""

    inspected_on = serializers.DateField()
    findings = FindingsInput()
    dc_ohm = Number(
        required=False,
        allow_null=True,
        min_value=0,
        max_value=MOST_OHM,
        help_text="Resistance through the winding, as measured.",
    )
    notes = Text(required=False, allow_blank=True, max_length=MOST_NOTES, help_text="Never published.")
    night = Text(required=False, max_length=32, help_text="Key of the club night, where it was done on one.")


class Finding(Shown):
    """How one item looked."""

    item = serializers.ChoiceField([item.code for item in ITEMS])
    state = serializers.ChoiceField(STATES)
    note = words("May be empty.")


class Inspection(Shown):
    """How a device looked, item by item."""

    id = key_field()
    device = words("Key of the device.")
    inspected_on = serializers.DateField()
    recorded_at = serializers.DateTimeField()
    recorded_by = words("Name of the account; empty once it is gone.")
    findings = Finding(many=True, help_text="Items that were looked at, in the order of the check list.")
    dc_ohm = number("Resistance through the winding.")
    notes = words("May be empty.")


class Reason(Shown):
    """Why a state is what it is."""

    code = words("Stable.")
    weight = serializers.ChoiceField(
        WEIGHTS, help_text="The state that this alone would make; note: none but serviceable."
    )
    message = words("A sentence with its figure and limit.")
    band = words("The band it is about.", nullable=True)


class NextStep(Shown):
    """What to do next."""

    code = words("Stable.")
    message = words("A sentence.")
    kind = words("The kind of test to make, where it is one.", nullable=True)


class Baseline(Shown):
    """The test of commissioning."""

    test = words("Its key.")
    kind = words("Its kind.")
    measured_on = serializers.DateField()
    chosen = serializers.BooleanField(help_text="False: nobody chose one; it is the first that counts.")


class Change(Shown):
    """A band's change since commissioning."""

    band = words("Its name.")
    baseline_db = number("Worst rejection then.", nullable=False)
    newest_db = number("Worst rejection now.", nullable=False)
    change_db = number("Now less then.", nullable=False)
    allowed_db = number("What the group allows.", nullable=False)
    real_from_db = number("The smallest change that repeating does not explain (95 %); null: unknown.")
    real = serializers.BooleanField(allow_null=True, help_text="Whether it is beyond that; null: unknown.")
    beyond_allowed = serializers.BooleanField()


class Repeatability(Shown):
    """How well tests repeat: the yardstick of a change."""

    whose = serializers.ChoiceField(("own", "group", "none"))
    sd_db = serializers.DictField(
        child=serializers.FloatField(),
        help_text="Pooled standard deviation per band; of the group: rounded up to 0.5 dB.",
    )
    dof = serializers.IntegerField(help_text="Degrees of freedom behind it.")
    needed_dof = serializers.IntegerField(help_text="How many it takes.")


class ServiceLimits(Shown):
    """The group's limits, intervals and margins in force."""

    benchmark_db = number("Least rejection.", nullable=False)
    swr = number("Largest SWR.", nullable=False)
    loss_db = number("Largest loss.", nullable=False)
    test_interval_days = serializers.IntegerField()
    inspection_interval_days = serializers.IntegerField()
    watch_margin_db = number("Rejection less than this above the benchmark is watched.", nullable=False)
    drift_db = number("Change since commissioning that is allowed.", nullable=False)


class Service(Shown):
    """What a device's own newest tests and inspections support. No power rating is inferred from it."""

    device = words("Its key.")
    state = serializers.ChoiceField(SERVICE_STATES)
    reasons = Reason(many=True, help_text="The gravest first; never empty.")
    next_step = NextStep()
    due_on = serializers.DateField(
        allow_null=True, help_text="When a test or inspection is due; null: never."
    )
    due_since = serializers.DateField(allow_null=True, help_text="Somebody marked it as due.")
    due_reason = words("Why; may be empty.")
    retired_on = serializers.DateField(allow_null=True)
    baseline = Baseline(allow_null=True)
    newest_test = words("The test that the state rests on.", nullable=True)
    change = Change(many=True)
    repeatability = Repeatability()
    limits = ServiceLimits()
    judged_on = serializers.DateField(help_text="The day it was judged on, UTC.")
    own_nights_only = serializers.BooleanField(
        help_text="Judged from the tests of your own nights alone; its owner may have more."
    )
