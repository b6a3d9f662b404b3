"""Club nights and intakes: what is sent, what is shown to the night's operators and stewards."""

from __future__ import annotations

from rest_framework import serializers

from api.serializers.result import ResultFlag
from api.shown import Shown, Verbatim, key_field, number, words
from api.strict import StrictSerializer, Text
from measurements.ingest.nights import LINES, MOST_NOTES
from measurements.ingest.uploads import KINDS
from measurements.rf.jig import ROLES as JIG_ROLES

INTAKE_STATES = ("queued", "running", "done")
FILE_STATES = ("waiting", "stored", "already_there", "refused")


class NightInput(StrictSerializer):
    """A club night as its operator describes it."""

    held_on = serializers.DateField(help_text="The day of the night.")
    title = Text(required=False, allow_blank=True, max_length=LINES["title"])
    instrument = Text(required=False, allow_blank=True, max_length=LINES["instrument"])
    jig = Text(
        required=False,
        allow_blank=True,
        max_length=LINES["jig"],
        help_text="Clips, adapters and leads between analyser and device.",
    )
    calibrated = serializers.BooleanField(
        required=False,
        allow_null=True,
        help_text="Whether the analyser was calibrated at the jig's ends; counts for each test of the night.",
    )
    calibration = Text(
        required=False, allow_blank=True, max_length=LINES["calibration"], help_text="How, with what, when."
    )
    resistors = Text(
        required=False,
        allow_blank=True,
        max_length=LINES["resistors"],
        help_text="The set of load resistors: values, tolerance, what power each bears.",
    )
    notes = Text(required=False, allow_blank=True, max_length=MOST_NOTES)


class JigForm(StrictSerializer):
    """The jig's own sweeps; at least one. They replace what was there."""


for _role in JIG_ROLES:
    JigForm._declared_fields[_role] = serializers.FileField(required=False)


class IntakeForm(StrictSerializer):
    """Either a zip of sweeps and `manifest.csv`, or the manifest and any number of sweeps."""

    archive = serializers.FileField(
        required=False, help_text="A zip of plain files, stored or deflated, without folders."
    )
    manifest = serializers.FileField(
        required=False,
        help_text="CSV with the columns file, tag, contributor, kind, method, role, ratio, and where needed "
        "load_ohm, series_ohm, design, measured_on, calibrated, partner.",
    )
    sweep = serializers.ListField(child=serializers.FileField(), required=False)


class JigBand(Verbatim):
    """What the jig shows on one band."""

    band = words("Its name.")
    start_hz = number("", nullable=False)
    stop_hz = number("", nullable=False)
    floor_db = number("Rejection that the open jig shows, at its worst there.")
    floor_hz = number("Where.")
    good_up_to_db = number("Readings up to this are believed: the floor less 10 dB.")
    good_enough = serializers.BooleanField(allow_null=True, help_text="Whether that reaches the benchmark.")
    through_loss_db = number("Loss of the jig closed on itself, at its worst there.")
    open_impedance_ohm = number("Of the open jig, at its smallest there.")
    short_impedance_ohm = number("Of the linked jig, at its largest there.")


class JigFigures(Verbatim):
    """What the jig is good for; all absent until it was swept. Figures without a band: worst of the bands."""

    swept = serializers.ListField(child=serializers.ChoiceField(JIG_ROLES), required=False)
    benchmark_db = number("What it is held against.", optional=True, nullable=False)
    floor_db = number("At its worst.", optional=True)
    floor_hz = number("Where.", optional=True)
    good_up_to_db = number("Readings up to this are believed.", optional=True)
    good_enough = serializers.BooleanField(required=False, allow_null=True)
    through_loss_db = number("At its worst.", optional=True)
    open_impedance_ohm = number("At its smallest.", optional=True)
    short_impedance_ohm = number("At its largest.", optional=True)
    open_capacitance_f = number("Across the clips.", optional=True)
    bands = JigBand(many=True, required=False)
    sentence = words("The same in words.", optional=True)
    advice = serializers.ListField(child=serializers.CharField(), required=False)
    tests_before = serializers.IntegerField(
        required=False, help_text="Tests of the night that keep the jig they were computed with."
    )


class JigFile(Shown):
    """A jig sweep of the night."""

    role = serializers.ChoiceField(JIG_ROLES)
    name = words("The file's own name.")
    size = serializers.IntegerField(help_text="Bytes.")
    sha256 = words("Of the original bytes, in hexadecimal.")


class Attendee(Shown):
    """Who brought devices."""

    id = key_field()
    name = words("Of the account or the guest; a guest is known to the night's operators and stewards only.")
    is_guest = serializers.BooleanField()
    devices = serializers.IntegerField(help_text="How many were brought.")


class NightTest(Shown):
    """The newest test of its kind and method made on the night."""

    id = key_field()
    kind = serializers.ChoiceField(KINDS)
    method = words("The method used.")
    measured_on = serializers.DateField()
    recorded_at = serializers.DateTimeField()
    bands = serializers.ListField(child=serializers.DictField(), help_text="As `bands` of a result.")
    summary = serializers.DictField(help_text="As `summary` of a result.")
    flags = ResultFlag(many=True)
    engine_version = words("Of the engine that computed it.")


class NightDevice(Shown):
    """A device that was brought to the night."""

    id = key_field()
    tag = words("What is written on it.")
    design = words("Key of its design.")
    design_title = words("Readable form of its recipe.")
    ratio = words("Of its design.")
    owner = words("Whose it is.")
    contributor = serializers.CharField(
        source="attendee", allow_null=True, help_text="Key on the night's list of contributors."
    )
    is_guest = serializers.BooleanField(help_text="Whether its owner has no account.")
    tests = serializers.IntegerField(help_text="How many were made of it on the night.")
    newest = NightTest(many=True)


class IntakeSummary(Shown):
    """An intake in one line."""

    id = key_field()
    made_at = serializers.DateTimeField()
    state = serializers.ChoiceField(INTAKE_STATES)
    done = serializers.IntegerField(help_text="Files that have ended, whichever way.")
    total = serializers.IntegerField()
    refused = serializers.IntegerField()


class NightListed(Shown):
    """A club night in a list."""

    id = key_field()
    held_on = serializers.DateField()
    title = words("May be empty.")
    instrument = words("May be empty.")
    jig = words("May be empty.")
    calibrated = serializers.BooleanField(allow_null=True)
    calibration = words("May be empty.")
    resistors = words("May be empty.")
    notes = words("May be empty.")
    opened_by = words("Name of the account.")
    opened_at = serializers.DateTimeField()
    closed_at = serializers.DateTimeField(allow_null=True)
    version = serializers.IntegerField(help_text="Grows with every change; it makes the ETag.")
    device_count = serializers.IntegerField()
    test_count = serializers.IntegerField()


class Night(NightListed):
    """A club night with its people, devices, jig and intakes."""

    jig_figures = JigFigures()
    jig_files = JigFile(many=True)
    operators = serializers.ListField(child=serializers.CharField(), help_text="Names of their accounts.")
    contributors = Attendee(many=True)
    devices = NightDevice(many=True)
    intakes = IntakeSummary(many=True)


class IntakeFile(Shown):
    """A file of an intake."""

    file = words("Its name.")
    number = serializers.IntegerField(help_text="Its place in the intake, from 1.")
    state = serializers.ChoiceField(FILE_STATES)
    reason = serializers.SerializerMethodField(
        help_text="Why it was refused, with line and column; null where it was not."
    )
    test = words("Key of the test that it became part of.", nullable=True)

    def get_reason(self, row: object) -> str | None:
        return getattr(row, "reason", "") or None


class Intake(Shown):
    """Many files handed in at once, each followed to its end."""

    id = key_field()
    night = words("Key of the night.")
    made_at = serializers.DateTimeField()
    state = serializers.ChoiceField(INTAKE_STATES)
    done = serializers.IntegerField(help_text="Files that have ended, whichever way.")
    total = serializers.IntegerField()
    files = IntakeFile(many=True)
