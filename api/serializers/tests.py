"""Tests: the multipart fields that are sent, and what is shown."""

from __future__ import annotations

from rest_framework import serializers

from api.paging import PageQuery
from api.serializers.result import Result, ResultFlag
from api.shown import Shown, Verbatim, key_field, number, words
from api.strict import StrictSerializer, Text
from measurements.ingest.uploads import BENCHMARK_RANGE_DB, KINDS, METHODS, MOST_OHM, ROLES
from measurements.rf.difference_causes import CODES
from measurements.rf.difference_likelihood import CODES as LIKELY

LOW_DB, HIGH_DB = BENCHMARK_RANGE_DB
PAIRS = ("pair_ab", "pair_ac", "pair_bc")


class AnalyseForm(StrictSerializer):
    """How a test was wired, and its files; further `pair_xy` files may follow the three named here."""

    kind = serializers.ChoiceField(KINDS)
    method = serializers.ChoiceField(
        METHODS, required=False, help_text="Of an insertion loss test; chosen from the files by default."
    )
    ratio = serializers.CharField(required=False, default="1:1", help_text="Impedance ratio such as `4:1`.")
    load_ohm = serializers.FloatField(
        required=False, min_value=0.1, max_value=MOST_OHM, help_text="The load resistor as measured."
    )
    series_ohm = serializers.FloatField(
        required=False, min_value=0.1, max_value=MOST_OHM, help_text="The series resistor as measured."
    )
    calibrated = serializers.BooleanField(
        required=False,
        allow_null=True,
        default=None,
        help_text="Whether the analyser was calibrated at the jig.",
    )
    benchmark_db = serializers.FloatField(required=False, min_value=LOW_DB, max_value=HIGH_DB)
    region = serializers.ChoiceField((1, 2, 3), required=False, help_text="ITU region of the band plan.")
    partner = serializers.CharField(
        required=False,
        max_length=32,
        help_text="Of known_partner: the id of an insertion loss test of yours of the trusted device.",
    )
    readings = serializers.CharField(
        required=False,
        help_text='In place of a file: a JSON list of `{"frequency_hz": ..., "value": ...}`.',
    )


for _role in (*ROLES, *PAIRS):
    AnalyseForm._declared_fields[_role] = serializers.FileField(required=False)


class TestForm(AnalyseForm):
    """An analysis to keep: of which device, measured when."""

    __test__ = False

    device = serializers.CharField(help_text="Key of the device.")
    measured_on = serializers.DateField()
    night = serializers.CharField(
        required=False,
        max_length=32,
        help_text="Of operators: the night it is made on, whose jig and calibration count unless said here.",
    )


class TestQuery(PageQuery):
    __test__ = False

    device = Text(required=False, max_length=32, help_text="Only tests of this device.")


class TestSweep(Shown):
    """A stored file of a test."""

    __test__ = False

    role = words("The multipart field it came in.")
    name = words("The file's own name.")
    points = serializers.IntegerField()
    ports = serializers.IntegerField()
    size = serializers.IntegerField(help_text="Bytes.")
    sha256 = words("Of the original bytes, in hexadecimal.")


class Test(Shown):
    """One wiring of one device, swept, and what was computed from it."""

    __test__ = False

    id = key_field()
    device = words("Key of the device.")
    device_tag = words("What is written on it.")
    design = words("Key of its design.")
    design_title = words("Readable form of its recipe.")
    kind = serializers.ChoiceField(KINDS)
    method = words("The method used.")
    measured_on = serializers.DateField()
    recorded_at = serializers.DateTimeField()
    settings = serializers.DictField(help_text="The settings as they were sent.")
    result = Result()
    sweeps = TestSweep(many=True)
    evidence = serializers.ChoiceField(("counts", "left_out"), help_text="Whether it counts as evidence.")
    published = serializers.BooleanField(help_text="Whether its figures stand in the current release.")
    night = words("Key of the club night it was made on; null elsewhere.", nullable=True)
    excluded_reason = words("Why a steward left it out of evidence; may be empty.")


class ComparisonBand(Verbatim):
    """One band of a comparison; nulls where too few devices are published."""

    band = words("Its name.")
    own_db = number("The test's own worst rejection in the band.", optional=True)
    devices = serializers.IntegerField(required=False, allow_null=True, help_text="Devices compared with.")
    percentile = number("Mid-rank among them, 0 to 100.", optional=True)
    median_db = number("Their median.", optional=True)
    from_median_db = number("Above (positive) or below it.", optional=True)
    reason = words("Why there is no comparison.", optional=True, nullable=True)


class ComparisonCause(Verbatim):
    """A likely cause of a curve that leaves its design's range; nulls where a figure is not of this cause."""

    code = serializers.ChoiceField(CODES)
    message = words("The cause, the figure it rests on, and what to do.")
    from_hz = number("Where the curve leaves the range, or the jig is near.", nullable=False)
    to_hz = number("Up to where.", nullable=False)
    impedance_ratio = number("Own impedance to the median's, at low frequencies.")
    behaves_as = number("Turns (core_count: cores) that would show it.")
    extra_capacitance_f = number("Across the winding, beyond the median's; negative: less.")
    self_resonance_hz = number("Of the test's own curve.")
    median_self_resonance_hz = number("Of the median curve.")
    leak_ohm = number("What seems to lie across the winding.")
    floor_db = number("What the open jig lets through, at its worst there.")
    mix = words("The mix it behaves like.", nullable=True)


class ComparisonLikelihood(Verbatim):
    """How likely one thing that may be wrong is, among those that are told apart."""

    code = serializers.ChoiceField(LIKELY, help_text="A cause, or `spread`: an unusual core and hand.")
    what = words("In words.")
    share = number("0 to 1, of all of them; those under 0.05 are left out.", nullable=False)


class Comparison(Shown):
    """Where a test stands among the published devices of its design."""

    test = words("Key of the test.")
    design = words("Key of its design.")
    design_title = words("Readable form of its recipe.")
    release = serializers.IntegerField(
        allow_null=True, help_text="The release compared with; null: none yet."
    )
    bands = ComparisonBand(many=True)
    checks = ResultFlag(
        many=True, help_text="Notes on the recipe: turns that do not fit, an inductance that is not theirs."
    )
    outlier = serializers.BooleanField(
        allow_null=True,
        help_text="Whether the curve leaves the 10 to 90 % range of its design's; null: nobody can say.",
    )
    causes = ComparisonCause(many=True, help_text="Likely causes; none while the curve is within the range.")
    likelihoods = ComparisonLikelihood(
        many=True, help_text="Each thing that may be wrong, likeliest first; none within the range."
    )
