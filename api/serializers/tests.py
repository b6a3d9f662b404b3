"""Tests: the multipart fields that are sent, and what is shown."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    RowSerializer,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    key_field,
    moment_field,
    number_field,
    text_field,
)
from api.http.paging import PageQuery
from api.serializers.results import Result, ResultFlag
from measurements.rf.diagnosis.change_hypotheses import HYPOTHESIS_CODES as LIKELY
from measurements.rf.diagnosis.named_causes import CAUSE_CODES
from measurements.rf.diagnosis.ratio_causes import WHERE_WORDS
from measurements.rf.diagnosis.ratio_hypotheses import RATIO_CODES
from measurements.rf.kinds.dc import DC_TYPES, MOST_MOHM
from measurements.selectors.tests import filtered_tests, tests
from measurements.services.intakes.own_folders import STATES as FOLDER_STATES
from measurements.services.uploads.uploads import BENCHMARK_RANGE_DB, KINDS, METHODS, MOST_OHM, ROLES

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
    antenna_bands = serializers.CharField(
        required=False,
        max_length=200,
        help_text="Of in_situ: the bands that the antenna is for, such as `40m,20m`; only these are judged.",
    )
    recipe_confirmed = serializers.BooleanField(
        required=False,
        default=False,
        help_text="The owner has checked core, mix and turns of a build whose curve "
        "contradicts its recipe. Sent "
        "with a test that is stored already, it confirms that one.",
    )
    private = serializers.BooleanField(
        required=False,
        default=False,
        help_text="Keep the test out of what is published. It counts for the state of your device alone. "
        "Sent with a test that is stored already, it keeps that one private from now on.",
    )
    readings = serializers.CharField(
        required=False,
        help_text='In place of a file: a JSON list of `{"frequency_hz": ..., "value": ...}`.',
    )
    analyser = serializers.CharField(
        required=False,
        help_text="The instrument: the key of an analyser that you described (`analysers/`), or JSON: "
        '`{"paths": 1, "reflection_residual": 0.01, "port2_match_db": 26, "drift_db": 0.05, "noise": 0.001, '
        '"resistor_percent": 1}`. '
        "What is left out keeps its cautious default.",
    )
    antenna_place = serializers.CharField(
        required=False,
        max_length=60,
        help_text="Of in_situ: your own name of the antenna; its first test is its commissioning.",
    )
    dc_readings = serializers.CharField(
        required=False,
        help_text='Of dc: a JSON list of `{"from": "C", "to": "A", "ohm": 0.2}`, ohm null for open.',
    )
    dc_type = serializers.ChoiceField(
        DC_TYPES, required=False, help_text="Of dc: what it is held against; by default the design decides."
    )
    dc_options = serializers.CharField(
        required=False, max_length=40, help_text="Of dc: `bleeder`, `arrester`, or both with a comma."
    )
    insulation_mohm = serializers.FloatField(required=False, min_value=0, max_value=MOST_MOHM)
    insulation_wet_mohm = serializers.FloatField(required=False, min_value=0, max_value=MOST_MOHM)

    def get_fields(self) -> dict[str, serializers.Field]:
        """Add a file for each role."""
        files = {role: serializers.FileField(required=False) for role in (*ROLES, *PAIRS)}
        return {**super().get_fields(), **files}


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


class FolderForm(StrictSerializer):
    """A zip, or any number of sweeps with or without a manifest; the other fields count for all files."""

    archive = serializers.FileField(required=False, help_text="A zip of plain files without folders.")
    manifest = serializers.FileField(
        required=False,
        help_text="CSV as for an intake, `contributor` and `design` empty; what a line says goes before what "
        "the form says.",
    )
    sweep = serializers.ListField(
        child=serializers.FileField(),
        required=False,
        help_text="Sweeps; without a manifest each is named after its device's tag.",
    )
    kind = serializers.ChoiceField(KINDS, required=False, help_text="Kind of every test.")
    method = serializers.ChoiceField(
        METHODS, required=False, help_text="Method of every insertion loss test."
    )
    ratio = serializers.CharField(required=False, help_text="Such as `4:1`; by default the design's.")
    load_ohm = serializers.FloatField(
        required=False, min_value=0.1, max_value=MOST_OHM, help_text="The load resistor as measured, ohm."
    )
    series_ohm = serializers.FloatField(
        required=False, min_value=0.1, max_value=MOST_OHM, help_text="The series resistor as measured, ohm."
    )
    calibrated = serializers.BooleanField(
        required=False, help_text="Whether the analyser was calibrated at the jig."
    )
    measured_on = serializers.DateField(required=False, help_text="Day of every measurement.")


class FolderFile(VerbatimSerializer):
    """One file of a folder and its end."""

    file = text_field("Its name.")
    state = serializers.ChoiceField(FOLDER_STATES, help_text="How it ended, or that it waits.")
    reason = text_field("Why it is refused or waits; null otherwise.", nullable=True)
    test = text_field("Key of its test; null where there is none.", nullable=True)


class FolderReply(VerbatimSerializer):
    """All files of a folder in the order they came; lines of the manifest without a file follow."""

    total = serializers.IntegerField(help_text="Files.")
    stored = serializers.IntegerField(help_text="Files of new tests.")
    already_there = serializers.IntegerField(help_text="Files that were stored before.")
    refused = serializers.IntegerField(help_text="Files that were refused.")
    waiting = serializers.IntegerField(help_text="Files to send again.")
    wait_s = serializers.IntegerField(
        allow_null=True, help_text="Send the waiting ones again after so many seconds; null without any."
    )
    files = FolderFile(many=True)


class TestQuery(PageQuery):
    __test__ = False

    device = TextField(required=False, max_length=32, help_text="Only tests of this device.")
    kind = serializers.ChoiceField(required=False, choices=list(KINDS), help_text="Only tests of this kind.")
    night = TextField(required=False, max_length=32, help_text="Only tests of this club night.")
    state = serializers.ChoiceField(
        required=False,
        choices=filtered_tests.STATES,
        help_text="`counts` or `left_out` as evidence; `published`: in the current release; `waiting`: for "
        "the check standard or an answer about the recipe; `excluded`: by a steward.",
    )
    flag = serializers.ChoiceField(
        required=False, choices=filtered_tests.FLAGS, help_text="Only tests whose result carries this flag."
    )
    order = serializers.ChoiceField(
        required=False,
        choices=filtered_tests.ORDERS,
        help_text="The last recorded first without it. A `cursor` belongs to its order.",
    )


class TestSweep(RowSerializer):
    """A stored file of a test."""

    __test__ = False

    role = text_field("The multipart field it came in.")
    name = text_field("The file's own name.")
    points = serializers.IntegerField()
    ports = serializers.IntegerField()
    size = serializers.IntegerField(help_text="Bytes.")
    sha256 = text_field("Of the original bytes, in hexadecimal.")


class Test(RowSerializer):
    """One wiring of one device, swept, and what was computed from it."""

    __test__ = False

    id = key_field()
    device = text_field("Key of the device.")
    device_tag = text_field("What is written on it.")
    design = text_field("Key of its design; null while its build is not known.", nullable=True)
    design_title = text_field("Readable form of its recipe.")
    kind = serializers.ChoiceField(KINDS)
    method = text_field("The method used.")
    measured_on = serializers.DateField()
    recorded_at = moment_field()
    settings = serializers.DictField(help_text="The settings as they were sent.")
    result = Result()
    sweeps = TestSweep(many=True)
    evidence = serializers.ChoiceField(("counts", "left_out"), help_text="Whether it counts as evidence.")
    published = serializers.BooleanField(help_text="Whether the current release has its figures.")
    night = text_field("Key of the club night it was made on; null elsewhere.", nullable=True)
    excluded_reason = text_field("Why a steward left it out of evidence; may be empty.")
    waits_for_recipe = serializers.BooleanField(
        help_text="Whether its curve contradicts the recipe of its device, so that it stays out of evidence "
        "until its owner sends it again with `recipe_confirmed`, or files the device under its true recipe."
    )
    recipe_confirmed = serializers.BooleanField(help_text="Whether its owner answers for the recipe.")
    private = serializers.BooleanField(help_text="Whether its owner keeps it out of what is published.")
    is_check_standard = serializers.BooleanField(
        help_text="Whether its device is the group's check standard, which gives no evidence."
    )
    waiting = serializers.ListField(
        child=serializers.CharField(),
        help_text="Why it stays out of evidence for now: the check standard of its night or day is out of "
        "control, and what to look at. Its verdicts stay. Empty where nothing waits.",
    )


class TestChange(StrictSerializer):
    """What an owner can change of a stored test."""

    __test__ = False

    private = serializers.BooleanField(
        help_text="True keeps it out of every release from now on; what is published of it stays until its "
        "design is renewed. False lets it count again."
    )


class ComparisonBand(VerbatimSerializer):
    """One band of a comparison; nulls where too few devices are published."""

    band = text_field("Its name.")
    own_db = number_field("The test's own worst rejection in the band.", optional=True)
    devices = serializers.IntegerField(required=False, allow_null=True, help_text="Devices compared with.")
    percentile = number_field(
        "Place between the published percentiles, 10 (or less) to 90 (or more); from ten people on.",
        optional=True,
    )
    median_db = number_field("Their median.", optional=True)
    from_median_db = number_field("Above (positive) or below it.", optional=True)
    reason = text_field("Why there is no comparison.", optional=True, nullable=True)


class ComparisonCause(VerbatimSerializer):
    """A cause that the diagnosis names; nulls where a figure is not of this cause."""

    code = serializers.ChoiceField(CAUSE_CODES)
    message = text_field("The cause, the figure it rests on, and what to do.")
    share = number_field("Of the whole posterior, 0.8 at least and never 1.", nullable=False)
    from_hz = number_field("Where the curve leaves the range, or where it was compared.", nullable=False)
    to_hz = number_field("Up to where.", nullable=False)
    impedance_ratio = number_field("Own impedance to the usual one, at low frequencies.")
    behaves_as = number_field("Turns (core_count: cores) that would show it.")
    extra_capacitance_f = number_field("Across the winding, beyond the usual.")
    self_resonance_hz = number_field("Of the test's own curve.")
    median_self_resonance_hz = number_field(
        "Of the curve that it is held against: the median's, or the recipe's."
    )
    leak_ohm = number_field("What seems to lie across the winding.")
    floor_db = number_field("What the open jig lets through, at its worst there.")
    mix = text_field("The mix it behaves like.", nullable=True)


class ComparisonLikelihood(VerbatimSerializer):
    """How likely one thing is: one row of the posterior that the causes are named from."""

    code = serializers.ChoiceField(
        LIKELY, help_text="A cause; `as_built`: nothing is wrong; `none_of_these`: what is not modelled."
    )
    what = text_field("In words.")
    share = number_field("0 to 1, of all of them; those under 0.05 are left out.", nullable=False)


WHERE = tuple(WHERE_WORDS)
RATIO_LIKELY = (*RATIO_CODES, "none_of_these")


class RatioCause(VerbatimSerializer):
    """Why a ratio device loses or mismatches."""

    code = serializers.ChoiceField(RATIO_CODES)
    message = text_field("In words, with the figures it rests on.")
    share = number_field("Of the posterior, 0.8 or more.", nullable=False)
    where = serializers.ChoiceField(
        WHERE,
        help_text="Where the test departs from the recipe; `ratio`: in the middle of the sweep; "
        "`nowhere`: it differs little.",
    )
    size = number_field("Of the change, in `unit`.")
    unit = text_field("`farad`, `ohm`, `times`, `turns`, `cores`, `of the path` or empty.")
    at_hz = number_field("Where it differs most.", nullable=False)
    own_swr = number_field("There, as measured.", nullable=False)
    usual_swr = number_field("There, by the recipe.", nullable=False)
    own_loss_db = number_field("There, as measured; null without a loss test.")
    usual_loss_db = number_field("There, by the recipe.")


class RatioLikelihood(VerbatimSerializer):
    """How likely one thing is: one row of the posterior that the cause is named from."""

    code = serializers.ChoiceField(RATIO_LIKELY)
    what = text_field("In words.")
    share = number_field("0 to 1, of all of them; those under 0.05 are left out.", nullable=False)


class RatioDiagnosis(VerbatimSerializer):
    """A voltage balun or unun whose match or loss falls short, held against its recipe."""

    where = serializers.ChoiceField(WHERE, help_text="Where it is worse than the recipe.")
    from_hz = number_field("Compared from here.", nullable=False)
    to_hz = number_field("To here.", nullable=False)
    match_test = text_field("The match test that it rests on.")
    loss_test = text_field("The loss test; null without one.", nullable=True)
    causes = RatioCause(many=True, help_text="None where nothing has four fifths of the posterior.")
    likelihoods = RatioLikelihood(
        many=True, help_text="How likely each cause is; those under 0.05 are left out."
    )


class Comparison(RowSerializer):
    """Where a test stands among the published devices of its design."""

    test = text_field("Key of the test.")
    design = text_field("Key of its design; null while its build is not known.", nullable=True)
    design_title = text_field("Readable form of its recipe.")
    release = serializers.IntegerField(
        allow_null=True, help_text="The release compared with; null: none yet."
    )
    bands = ComparisonBand(many=True)
    checks = ResultFlag(many=True, help_text="Notes on the recipe: turns that do not fit.")
    basis = serializers.ChoiceField(
        ("design", "recipe"),
        allow_null=True,
        help_text="What the diagnosis rests on: the published curves of the design, or where "
        "there are too few "
        "the recipe alone; null: neither can tell.",
    )
    outlier = serializers.BooleanField(
        allow_null=True,
        help_text="Whether the curve leaves the 10 to 90 % range of its design's; null: nobody can say.",
    )
    causes = ComparisonCause(
        many=True,
        help_text="Named from four fifths of the posterior on, where the fit explains the curve; else none.",
    )
    likelihoods = ComparisonLikelihood(
        many=True,
        help_text="The posterior, likeliest first; none where the curve is as it should be.",
    )
    ratio_diagnosis = RatioDiagnosis(
        allow_null=True,
        help_text="Of a voltage balun or unun whose match or loss falls short or is too close to call; "
        "else null.",
    )


RAW_FORM = "raw"


class SweepQuery(StrictSerializer):
    form = serializers.ChoiceField(
        (RAW_FORM, *tests.CORRECTED_FORMS),
        default=RAW_FORM,
        help_text="`raw`: the bytes as they came. The others go with `format=touchstone`.",
    )
