"""Kit in many hands: offers, loans, tables, changes of many devices, labels."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    RowSerializer,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    key_field,
    text_field,
)
from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.services.devices.device_fields import LINES
from measurements.services.devices.label_codes import MOST_AT_ONCE
from measurements.services.kit.kit_csv import MOST_CHARACTERS

MOST_LABELS = 300


class OfferInput(StrictSerializer):
    """To whom a device is offered: the group, or the account of a name."""

    to_group = serializers.BooleanField(
        required=False, help_text="true: to the group. Otherwise `name` says to whom."
    )
    name = TextField(required=False, max_length=64, help_text="Name of an account.")


class Offer(RowSerializer):
    """A device that waits for somebody's yes."""

    id = key_field()
    device = text_field("Key of the device.")
    device_tag = text_field("Its tag.")
    to_group = serializers.BooleanField(help_text="Whether it is offered to the group.")
    name = text_field("To whom; empty for the group.")
    owner = text_field("Who gives it.")
    offered_at = serializers.DateTimeField(help_text="When it was offered, UTC.")


class OfferAnswer(StrictSerializer):
    """Yes or no."""

    yes = serializers.BooleanField(help_text="true takes the device over; false declines it.")


class LoanInput(StrictSerializer):
    """Who has a device for a while."""

    borrower = TextField(max_length=64, help_text="A name, as you know the person. Never published.")
    lent_on = serializers.DateField(required=False, help_text="Since when; today where it is missing.")


class ReturnInput(StrictSerializer):
    """When a device came back."""

    returned_on = serializers.DateField(required=False, help_text="Today where it is missing.")


class Loan(RowSerializer):
    """Who had a device, since when, until when."""

    id = key_field()
    borrower = text_field("The name as it was written.")
    lent_on = serializers.DateField(help_text="Day from which it was lent.")
    returned_on = serializers.DateField(allow_null=True, help_text="null: not back yet.")
    lent_by = text_field("Who noted it; empty where that account is gone.")


class TableInput(StrictSerializer):
    """A CSV of kit, to be looked at first and then written."""

    table = TextField(max_length=MOST_CHARACTERS, trim_whitespace=False, help_text="The CSV, heading first.")
    of_group = serializers.BooleanField(
        required=False, help_text="New rows without an owner are the group's."
    )
    fingerprint = TextField(
        required=False,
        max_length=64,
        help_text="Of the difference that was shown; with it the table is written.",
    )


class TableRow(VerbatimSerializer):
    """A row that changes something."""

    line = serializers.IntegerField(help_text="Line of the table.")
    id = serializers.CharField(allow_null=True, help_text="The device; null for a new one.")
    tag = serializers.CharField(help_text="Tag of the device once the table is written.")
    changes = serializers.DictField(
        child=serializers.ListField(child=serializers.CharField(allow_blank=True)),
        help_text="Column to what it was and what it becomes.",
    )


class TableDifference(VerbatimSerializer):
    """What a table does to what is stored."""

    rows = TableRow(many=True, help_text="The rows that change something, in the order of the table.")
    same = serializers.IntegerField(help_text="Rows that change nothing.")
    fingerprint = serializers.CharField(help_text="Send it back to write exactly this.")
    change = serializers.CharField(
        allow_null=True, help_text="Key that undoes it; null while nothing is written."
    )


class BulkInput(StrictSerializer):
    """The same change of many devices; what is missing stays."""

    devices = serializers.ListField(
        child=TextField(max_length=32), max_length=2000, help_text="Keys of the devices."
    )
    place = TextField(
        required=False,
        allow_blank=True,
        max_length=LINES["place"][0],
        help_text="Where they are in service; empty: no place is noted. Never published.",
    )
    retired_on = serializers.DateField(
        required=False, allow_null=True, help_text="Out of service for good since; null: in use again."
    )
    due_event = serializers.ChoiceField(
        tuple(DUE_EVENTS_BY_CODE), required=False, help_text="Marks them as due after this event."
    )
    due_reason = TextField(
        required=False,
        allow_blank=True,
        max_length=120,
        help_text="With `due_event`: why, in words. The event `other` needs it.",
    )


class BulkChange(VerbatimSerializer):
    """A step over many devices."""

    change = serializers.CharField(
        allow_null=True, help_text="Key that undoes it; null where nothing differs."
    )
    devices = serializers.IntegerField(help_text="How many differ from before.")


class UndoneChange(VerbatimSerializer):
    """A step that was undone."""

    undone = serializers.IntegerField(help_text="How many devices are as before.")
    kept = serializers.ListField(child=serializers.CharField(), help_text="Tags of those changed since.")


class LabelInput(StrictSerializer):
    """Which labels to draw, and on what."""

    devices = serializers.ListField(
        child=TextField(max_length=32),
        min_length=1,
        max_length=MOST_LABELS,
        help_text="Keys of the devices; each gets a label.",
    )
    paper = serializers.ChoiceField(
        ("a4", "letter", "tape62"),
        required=False,
        help_text="Sheets (`a4`, `letter`), or one label a page for 62 mm tape (`tape62`); `a4` by default.",
    )


class BlankLabelInput(StrictSerializer):
    """How many codes to make for blank labels."""

    count = serializers.IntegerField(
        min_value=1, max_value=MOST_AT_ONCE, help_text="Codes to make, one per label."
    )


class BlankLabels(VerbatimSerializer):
    """Codes that are bound to no device yet."""

    codes = serializers.ListField(
        child=serializers.CharField(), help_text="The new codes; each is for one label."
    )


class LabelBinding(StrictSerializer):
    """The device that a blank label is on now."""

    device = TextField(max_length=32, help_text="Key of the device that the label is on.")
