"""Inspections and service states: what is sent, what is shown."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    NumberField,
    RowSerializer,
    StrictSerializer,
    TextField,
    key_field,
    moment_field,
    number_field,
    text_field,
)
from measurements.fitness.checklist import CHECKLIST_ITEMS, ITEM_STATES
from measurements.fitness.service_facts import SERVICE_STATES
from measurements.services.upkeep.inspections import MOST_NOTE, MOST_NOTES, MOST_OHM

WEIGHTS = (*SERVICE_STATES[:-1], "note")


class FindingInput(StrictSerializer):
    """The answer to one item of the check list."""

    state = serializers.ChoiceField(
        ITEM_STATES,
        help_text="ok clears a fault of this item only with a note of what was done.",
    )
    note = TextField(required=False, allow_blank=True, default="", max_length=MOST_NOTE)


class FindingsInput(StrictSerializer):
    """Items that are not named were not looked at."""

    def get_fields(self) -> dict[str, serializers.Field]:
        """Add an answer for each item of the check list."""
        items = {item.code: FindingInput(required=False, help_text=item.look) for item in CHECKLIST_ITEMS}
        return {**super().get_fields(), **items}


class InspectionInput(StrictSerializer):
    """A look at a device. The same one sent again answers with the first."""

    inspected_on = serializers.DateField()
    findings = FindingsInput()
    dc_ohm = NumberField(
        required=False,
        allow_null=True,
        min_value=0,
        max_value=MOST_OHM,
        help_text="Resistance through the winding, as measured.",
    )
    notes = TextField(required=False, allow_blank=True, max_length=MOST_NOTES, help_text="Never published.")
    night = TextField(
        required=False, max_length=32, help_text="Key of the club night, where it was done on one."
    )


class Finding(RowSerializer):
    """How one item looked."""

    item = serializers.ChoiceField([item.code for item in CHECKLIST_ITEMS])
    state = serializers.ChoiceField(ITEM_STATES)
    note = text_field("May be empty.")


class Inspection(RowSerializer):
    """How a device looked, item by item."""

    id = key_field()
    device = text_field("Key of the device.")
    inspected_on = serializers.DateField()
    recorded_at = moment_field()
    recorded_by = text_field("Name of the account; empty once it is gone.")
    findings = Finding(many=True, help_text="Items that were looked at, in the order of the check list.")
    dc_ohm = number_field("Resistance through the winding.")
    notes = text_field("May be empty.")


class Reason(RowSerializer):
    """Why a state is what it is."""

    code = text_field("Stable.")
    weight = serializers.ChoiceField(
        WEIGHTS, help_text="The state that this alone would make; note: none but serviceable."
    )
    message = text_field("A sentence with its figure and limit.")
    band = text_field("The band it is about.", nullable=True)


class NextStep(RowSerializer):
    """What to do next."""

    code = text_field("Stable.")
    message = text_field("A sentence.")
    kind = text_field("The kind of test to make, where it is one.", nullable=True)


class Baseline(RowSerializer):
    """The test of commissioning."""

    test = text_field("Its key.")
    kind = text_field("Its kind.")
    measured_on = serializers.DateField()
    chosen = serializers.BooleanField(help_text="False: nobody chose one; it is the first that counts.")


class Change(RowSerializer):
    """A band's change since commissioning."""

    band = text_field("Its name.")
    baseline_db = number_field("Worst rejection then.", nullable=False)
    newest_db = number_field("Worst rejection now.", nullable=False)
    change_db = number_field("Now less then.", nullable=False)
    allowed_db = number_field("What the group allows.", nullable=False)
    real_from_db = number_field("The smallest change that repeating does not explain (95 %); null: unknown.")
    real = serializers.BooleanField(allow_null=True, help_text="Whether it is beyond that; null: unknown.")
    beyond_allowed = serializers.BooleanField()


class Repeatability(RowSerializer):
    """How well tests repeat: the yardstick of a change."""

    whose = serializers.ChoiceField(("own", "group", "none"))
    sd_db = serializers.DictField(
        child=serializers.FloatField(),
        help_text="Pooled standard deviation per band; of the group: rounded up to 0.5 dB.",
    )
    dof = serializers.IntegerField(help_text="Degrees of freedom behind it.")
    needed_dof = serializers.IntegerField(help_text="How many it takes.")


class StateBasis(RowSerializer):
    """A good answer that a state rests on."""

    kind = text_field("The kind of test.")
    band = text_field("Its name; null for an ohmmeter test.", nullable=True)
    message = text_field("The figure and its limit.")
    answered_on = serializers.DateField(help_text="The day of the test.")
    test = text_field("Its key.")


class ItemState(RowSerializer):
    """The last answer to an item of the check list. A fault stands until it is answered ok with a note."""

    item = serializers.ChoiceField([item.code for item in CHECKLIST_ITEMS])
    state = serializers.ChoiceField(ITEM_STATES)
    answered_on = serializers.DateField(allow_null=True, help_text="null: nobody looked at it yet.")


class ServiceLimits(RowSerializer):
    """The group's limits, intervals and margins in force."""

    benchmark_db = number_field("Least rejection.", nullable=False)
    swr = number_field("Largest SWR.", nullable=False)
    loss_db = number_field("Largest loss.", nullable=False)
    test_interval_days = serializers.IntegerField()
    inspection_interval_days = serializers.IntegerField()
    watch_margin_db = number_field(
        "Rejection less than this above the benchmark is watched, beside what U and repeating explain.",
        nullable=False,
    )
    drift_db = number_field("Change of rejection since commissioning that is allowed.", nullable=False)
    drift_loss_db = number_field("Change of loss since commissioning that is allowed.", nullable=False)
    drift_swr = number_field("Change of SWR since commissioning that is allowed.", nullable=False)


class Service(RowSerializer):
    """What a device's own newest tests and inspections support. No power rating is inferred from it."""

    device = text_field("Its key.")
    state = serializers.ChoiceField(SERVICE_STATES)
    reasons = Reason(many=True, help_text="The gravest first; never empty.")
    next_step = NextStep()
    due_on = serializers.DateField(
        allow_null=True, help_text="When a test or inspection is due; null: never."
    )
    due_since = serializers.DateField(
        allow_null=True,
        help_text="Day of the oldest mark that stands; the reason `marked_due` says what clears it.",
    )
    due_reason = text_field("The event and why; may be empty.")
    retired_on = serializers.DateField(allow_null=True)
    baseline = Baseline(allow_null=True)
    newest_test = text_field("The test that the state rests on.", nullable=True)
    change = Change(many=True)
    repeatability = Repeatability()
    limits = ServiceLimits()
    judged_on = serializers.DateField(help_text="The day it was judged on, UTC.")
    own_nights_only = serializers.BooleanField(
        help_text="Judged from the tests of your own nights alone; its owner may have more."
    )
    rests_on = StateBasis(many=True, help_text="Good answers that are not too old, band by band.")
    not_covered = serializers.ListField(
        child=serializers.CharField(), help_text="What the state says nothing of, in sentences."
    )
    items = ItemState(many=True, help_text="Every item of the check list, in its order.")
