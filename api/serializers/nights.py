"""Club nights and intakes: what is sent, what is shown to the night's operators and stewards."""

from __future__ import annotations

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers

from api.http.fields import (
    FlagField,
    RowSerializer,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    key_field,
    moment_field,
    number_field,
    text_field,
)
from api.serializers.results import ResultFlag
from measurements.rf.instruments.jig import JIG_ROLES
from measurements.services.intakes.answers import ANSWERS
from measurements.services.nights.nights import LINE_LENGTHS, MOST_NOTES
from measurements.services.uploads.uploads import KINDS

INTAKE_STATES = ("queued", "running", "done")
FILE_STATES = ("waiting", "stored", "already_there", "refused")


class NightInput(StrictSerializer):
    """A club night as its operator describes it."""

    held_on = serializers.DateField(help_text="The day of the night.")
    title = TextField(required=False, allow_blank=True, max_length=LINE_LENGTHS["title"])
    instrument = TextField(required=False, allow_blank=True, max_length=LINE_LENGTHS["instrument"])
    analyser = TextField(
        required=False,
        allow_blank=True,
        max_length=32,
        help_text="Key of an analyser that you described; it counts for each test of the night.",
    )
    jig = TextField(
        required=False,
        allow_blank=True,
        max_length=LINE_LENGTHS["jig"],
        help_text="Clips, adapters and leads between analyser and device.",
    )
    calibrated = FlagField(
        required=False,
        allow_null=True,
        help_text="Whether the analyser was calibrated at the jig's ends; counts for each test of the night.",
    )
    calibration = TextField(
        required=False,
        allow_blank=True,
        max_length=LINE_LENGTHS["calibration"],
        help_text="How, with what, when.",
    )
    resistors = TextField(
        required=False,
        allow_blank=True,
        max_length=LINE_LENGTHS["resistors"],
        help_text="The set of load resistors: values, tolerance, what power each bears.",
    )
    notes = TextField(required=False, allow_blank=True, max_length=MOST_NOTES)


class JigForm(StrictSerializer):
    """The jig's own sweeps; at least one. They replace what was there."""

    def get_fields(self) -> dict[str, serializers.Field]:
        """Add a file for each role."""
        files = {role: serializers.FileField(required=False) for role in JIG_ROLES}
        return {**super().get_fields(), **files}


class IntakeForm(StrictSerializer):
    """Either a zip of sweeps and `manifest.csv`, or the manifest and any number of sweeps."""

    archive = serializers.FileField(
        required=False, help_text="A zip of plain files, stored or deflated, without folders."
    )
    manifest = serializers.FileField(
        required=False,
        help_text="CSV with the columns file, tag, contributor, kind, method, role, ratio, and where needed "
        "load_ohm, series_ohm, design, measured_on, calibrated, partner, private, new_device (yes: the tag "
        "is a new device; no: it comes from a file's name alone).",
    )
    sweep = serializers.ListField(child=serializers.FileField(), required=False)


class JigBand(VerbatimSerializer):
    """What the jig shows on one band."""

    band = text_field("Its name.")
    start_hz = number_field("", nullable=False)
    stop_hz = number_field("", nullable=False)
    floor_db = number_field("Rejection that the open jig shows, at its worst there.")
    floor_hz = number_field("Where.")
    good_up_to_db = number_field("Readings up to this are believed: the floor less 10 dB.")
    good_enough = serializers.BooleanField(allow_null=True, help_text="Whether that reaches the benchmark.")
    through_loss_db = number_field("Loss of the jig closed on itself, at its worst there.")
    open_impedance_ohm = number_field("Of the open jig, at its smallest there.")
    short_impedance_ohm = number_field("Of the linked jig, at its largest there.")


class JigFigures(VerbatimSerializer):
    """What the jig is good for; all absent until it was swept. Figures without a band: worst of the bands."""

    swept = serializers.ListField(child=serializers.ChoiceField(JIG_ROLES), required=False)
    benchmark_db = number_field("What it is held against.", optional=True, nullable=False)
    floor_db = number_field("At its worst.", optional=True)
    floor_hz = number_field("Where.", optional=True)
    good_up_to_db = number_field("Readings up to this are believed.", optional=True)
    good_enough = serializers.BooleanField(required=False, allow_null=True)
    through_loss_db = number_field("At its worst.", optional=True)
    open_impedance_ohm = number_field("At its smallest.", optional=True)
    short_impedance_ohm = number_field("At its largest.", optional=True)
    open_capacitance_f = number_field("Across the clips.", optional=True)
    bands = JigBand(many=True, required=False)
    sentence = text_field("The same in words.", optional=True)
    advice = serializers.ListField(child=serializers.CharField(), required=False)
    tests_before = serializers.IntegerField(
        required=False, help_text="Tests of the night that keep the jig they were computed with."
    )


class JigFile(RowSerializer):
    """A jig sweep of the night."""

    role = serializers.ChoiceField(JIG_ROLES)
    name = text_field("The file's own name.")
    size = serializers.IntegerField(help_text="Bytes.")
    sha256 = text_field("Of the original bytes, in hexadecimal.")


class Attendee(RowSerializer):
    """Who brought devices."""

    id = key_field()
    name = text_field(
        "Of the account or the guest; a guest is known to the night's operators and stewards only."
    )
    is_guest = serializers.BooleanField()
    devices = serializers.IntegerField(help_text="How many were brought.")


class NightTest(RowSerializer):
    """The newest test of its kind and method made on the night."""

    id = key_field()
    kind = serializers.ChoiceField(KINDS)
    method = text_field("The method used.")
    measured_on = serializers.DateField()
    recorded_at = moment_field()
    bands = serializers.ListField(child=serializers.DictField(), help_text="As `bands` of a result.")
    summary = serializers.DictField(help_text="As `summary` of a result.")
    flags = ResultFlag(many=True)
    engine_version = text_field("Of the engine that computed it.")


class NightDevice(RowSerializer):
    """A device that was brought to the night."""

    id = key_field()
    tag = text_field("What is written on it.")
    design = text_field("Key of its design; null while its build is not known.", nullable=True)
    design_title = text_field("Readable form of its recipe.")
    ratio = text_field("Of its design.")
    owner = text_field("Whose it is.")
    contributor = serializers.CharField(
        source="attendee", allow_null=True, help_text="Key on the night's list of contributors."
    )
    is_guest = serializers.BooleanField(help_text="Whether its owner has no account.")
    tests = serializers.IntegerField(help_text="How many were made of it on the night.")
    newest = NightTest(many=True)


class IntakeSummary(RowSerializer):
    """An intake in one line."""

    id = key_field()
    made_at = moment_field()
    state = serializers.ChoiceField(INTAKE_STATES)
    done = serializers.IntegerField(help_text="Files that have ended, whichever way.")
    total = serializers.IntegerField()
    refused = serializers.IntegerField()


class NightListed(RowSerializer):
    """A club night in a list."""

    id = key_field()
    held_on = serializers.DateField()
    title = text_field("May be empty.")
    instrument = text_field("May be empty.")
    analyser = text_field("Key of the described analyser of the night's tests.", nullable=True)
    analyser_name = text_field("Its owner's name of it; may be empty.")
    jig = text_field("May be empty.")
    calibrated = serializers.BooleanField(allow_null=True)
    calibration = text_field("May be empty.")
    resistors = text_field("May be empty.")
    notes = text_field("May be empty.")
    opened_by = text_field("Name of the account.")
    opened_at = moment_field()
    closed_at = moment_field(nullable=True)
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


class IntakeQuestion(VerbatimSerializer):
    """What a refused file waits for an answer to, rather than for a repair."""

    code = text_field("Such as `question.close_tag`.")
    group = text_field("Files with the same one are answered together.")
    answer = serializers.DictField(help_text="Columns of the manifest that a yes sets.")
    text = text_field("The question.")


class IntakeFile(RowSerializer):
    """A file of an intake."""

    file = text_field("Its name.")
    number = serializers.IntegerField(help_text="Its place in the intake, from 1.")
    state = serializers.ChoiceField(FILE_STATES)
    reason = serializers.SerializerMethodField(
        help_text="Why it was refused, with line and column; null where it was not."
    )
    test = text_field("Key of the test that it became part of.", nullable=True)
    question = serializers.SerializerMethodField(
        help_text="What a refused file asks; null where it asks nothing. Answer at `answers/`, or hand the "
        "file in again with a manifest that answers."
    )

    def get_reason(self, row: object) -> str | None:
        return getattr(row, "reason", "") or None

    @extend_schema_field(IntakeQuestion(allow_null=True))
    def get_question(self, row: object) -> dict[str, object] | None:
        return getattr(row, "question", None) or None


class IntakeAnswerInput(StrictSerializer):
    """An answer to one question, for all files that wait for it."""

    group = TextField(max_length=200, help_text="`group` of the question.")
    answer = serializers.ChoiceField(
        ANSWERS,
        help_text="yes: to what the question proposes; new: the tag is a new device; other: another tag; "
        "drop: leave the files out.",
    )
    tag = TextField(required=False, max_length=64, help_text="With `other`: the tag of all of them.")
    contributor = TextField(
        required=False, max_length=64, help_text="With `new`: whose the device is, where that is missing."
    )
    design = TextField(
        required=False, max_length=32, help_text="With `new`: key of its design, where that is missing."
    )


class Intake(RowSerializer):
    """Many files handed in at once, each followed to its end."""

    id = key_field()
    night = text_field("Key of the night.")
    made_at = moment_field()
    state = serializers.ChoiceField(INTAKE_STATES)
    done = serializers.IntegerField(help_text="Files that have ended, whichever way.")
    total = serializers.IntegerField()
    files = IntakeFile(many=True)
