"""Devices: what is sent, what is changed, what is shown."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.http.fields import (
    FlagField,
    RowSerializer,
    StrictSerializer,
    TextField,
    key_field,
    moment_field,
    text_field,
)
from api.http.paging import PageQuery
from measurements.fitness.service_facts import SERVICE_STATES
from measurements.services.devices.device_fields import LINES, MOST_NOTES

ORIGINS = ("homebrew", "commercial")


class DevicesQuery(PageQuery):
    """Filters of `devices/`."""

    state = serializers.ChoiceField(
        (*SERVICE_STATES, "due"),
        required=False,
        help_text="Only devices in this service state; `due`: any but serviceable.",
    )
    place = TextField(
        required=False, allow_blank=True, max_length=LINES["place"][0], help_text="Exactly this place."
    )
    owner = serializers.RegexField(
        r"^(group|(member|guest):[^\x00]{1,64})$",
        required=False,
        help_text="`group`, `member:NAME` or `guest:NAME`.",
    )
    due_before = serializers.DateField(
        required=False, help_text="Only devices of which something is due before this day."
    )
    in_service = FlagField(required=False, help_text="true: leave out devices that are retired.")
    q = TextField(required=False, max_length=64, help_text="Text in tag, place, owner or design.")


class DeviceInput(StrictSerializer):
    """A device as its owner describes it."""

    design = TextField(
        max_length=32,
        allow_null=True,
        help_text="Key of its design; null while its build is not known: it then counts for no design.",
    )
    tag = TextField(max_length=64, help_text="What is written on the device; once per owner.")
    origin = serializers.ChoiceField(ORIGINS, required=False)
    built_on = serializers.DateField(required=False, allow_null=True)
    notes = TextField(
        required=False, allow_blank=True, max_length=MOST_NOTES, help_text="For you alone; never published."
    )
    place = TextField(
        required=False,
        allow_blank=True,
        max_length=LINES["place"][0],
        help_text="Where it is in service. Never published.",
    )
    kind = TextField(
        required=False,
        allow_blank=True,
        max_length=LINES["kind"][0],
        help_text="What it is, while its build is not known. Never published.",
    )
    ratio = TextField(
        required=False,
        allow_blank=True,
        max_length=LINES["ratio"][0],
        help_text="Its ratio as written on it, while its build is not known. Never published.",
    )
    make = TextField(
        required=False,
        allow_blank=True,
        max_length=LINES["make"][0],
        help_text="Make and model. Never published.",
    )


class DeviceRegistration(DeviceInput):
    """A device as its owner, or an operator for who brought it to a night, registers it."""

    night = TextField(
        required=False,
        max_length=32,
        help_text="Of operators: the night it was brought to; with `contributor`.",
    )
    contributor = TextField(
        required=False,
        max_length=64,
        help_text="Whose it is: the name on that night's list, a guest's until its bearer claims it.",
    )
    of_group = FlagField(required=False, help_text="Of kit keepers and stewards: the device is the group's.")
    code = TextField(
        required=False, max_length=32, help_text="Code of the blank label that is on the device now."
    )
    same_person = FlagField(
        required=False,
        allow_null=True,
        help_text="Whether a guest of this name who came to an earlier night is the same person.",
    )

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        if ("night" in attrs) != ("contributor" in attrs):
            missing = "contributor" if "night" in attrs else "night"
            raise serializers.ValidationError({missing: "Give night and contributor together."})
        if attrs.get("of_group") and "night" in attrs:
            raise serializers.ValidationError({"of_group": "A guest brought it, or it is the group's."})
        return attrs


class DeviceChange(DeviceInput):
    """What can be changed of a device."""

    retired_on = serializers.DateField(
        required=False, allow_null=True, help_text="Out of service for good since; nothing is due then."
    )
    baseline = TextField(
        required=False,
        allow_null=True,
        max_length=32,
        help_text="Key of its commissioning test; null: the first test that counts.",
    )


class Device(RowSerializer):
    """One physical balun, unun or choke with a tag on it."""

    id = key_field()
    design = text_field("Key of its design; null while its build is not known.", nullable=True)
    design_title = text_field("Readable form of its recipe, or that its build is not known yet.")
    tag = text_field("What is written on it.")
    origin = serializers.ChoiceField(ORIGINS)
    built_on = serializers.DateField(allow_null=True)
    notes = text_field("Yours; may be empty.")
    registered_at = moment_field()
    version = serializers.IntegerField(help_text="Grows with every change; it makes the ETag.")
    owner = text_field("Name of the account or guest to whom it belongs; `the group` for the group's kit.")
    tests = serializers.IntegerField(help_text="How many tests are stored of it.")
    place = text_field("Where it is in service; may be empty.")
    retired_on = serializers.DateField(allow_null=True, help_text="Out of service for good since.")
    kind = text_field("What it is, as its owner wrote it; may be empty.")
    ratio = text_field("Its ratio, as its owner wrote it; may be empty.")
    make = text_field("Make and model; may be empty.")
    of_group = serializers.BooleanField(help_text="Whether it is the group's.")
    lent_to = text_field("Who has it on loan now; may be empty.")
    lent_on = serializers.DateField(allow_null=True, help_text="Since when it is lent.")


class ListedDevice(Device):
    """A device in a list, with the service state that was last judged of it."""

    state = serializers.ChoiceField(
        SERVICE_STATES,
        allow_null=True,
        help_text="null for up to a minute after something of it changed: it is judged anew.",
    )
    reasons = serializers.ListField(
        child=serializers.CharField(), help_text="Codes of its reasons, the gravest first."
    )
    reason = text_field("The gravest reason, with figure and limit.")
    next_step = text_field("What to do next.")
    due_on = serializers.DateField(
        allow_null=True, help_text="When its next test or inspection is due; a past day: since when."
    )
