"""A result of the engine, as `measurements.rf.analysis` makes it.

Fields of a kind are there for that kind only; a value that does not exist is null and a flag says why.
"""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import Complex, VerbatimSerializer, number_field, text_field
from measurements.rf.kinds.dc import DC_TYPES
from measurements.selectors.tests import band_results
from measurements.services.uploads.uploads import KINDS

COVERAGES = ("full", "interpolated", "partial", "none")
DECISIONS = ("meets", "falls_short", "too_close", "not_judged")
SEVERITIES = ("refuse", "exclude", "note")
FINDINGS = ("device_makes_it_worse", "device_changes_nothing", "better_through_device", "inconclusive")
CHANGES = ("as_commissioned", "changed", "cannot_tell")


class BandFigure(VerbatimSerializer):
    """A figure in a band, its edges included."""

    worst = number_field("At the worst point of the band.")
    worst_hz = number_field("Where that is.", optional=True)
    centre = number_field("At the centre of the band.", optional=True)
    best = number_field("At the best point of the band.", optional=True)


def band_figure_field(text: str) -> BandFigure:
    """Return a figure that tests of some kinds have."""
    return BandFigure(required=False, allow_null=True, help_text=text)


class CurveChange(VerbatimSerializer):
    """A curve at the feed point against its own of commissioning, around one band."""

    change = serializers.ChoiceField(CHANGES)
    resonance_then_hz = number_field("Least SWR at commissioning; null: at the edge of the sweep.")
    resonance_now_hz = number_field("Least SWR today.")
    least_swr_then = number_field("At commissioning.")
    least_swr_now = number_field("Today.")


class BandResult(VerbatimSerializer):
    """Figures of one band, its edges included."""

    band = text_field("Its name, such as `40m`.")
    start_hz = number_field("Lower edge.", nullable=False)
    stop_hz = number_field("Upper edge.", nullable=False)
    points_in_band = serializers.IntegerField(help_text="Measured points inside.")
    coverage = serializers.ChoiceField(COVERAGES)
    covered_start_hz = number_field("Where the sweep's part of the band begins.")
    covered_stop_hz = number_field("Where it ends.")
    meets = serializers.BooleanField(allow_null=True, help_text="Null: too close to call, or not judged.")
    decision = serializers.ChoiceField(
        DECISIONS,
        help_text="`meets`: inside the limit by U or more; `falls_short`: beyond it by U or more; "
        "`too_close`: neither, so no verdict; `not_judged`: a flag says why.",
    )
    uncertainty = serializers.DictField(
        child=serializers.FloatField(allow_null=True),
        required=False,
        help_text="U (95 %) of the worst figure by metric, in the metric's unit; null: not known.",
    )
    rejection_db = band_figure_field("common_mode: -20 log10 |S21|.")
    rejection_raw_db = band_figure_field("common_mode: as measured, nothing of the jig taken away.")
    rejection_compensated_db = band_figure_field("common_mode: with the open and shorted jig taken away.")
    jig_limited = serializers.BooleanField(
        required=False,
        allow_null=True,
        help_text="common_mode: within 10 dB of the open jig; null: nobody can tell.",
    )
    judged_by_bound = serializers.BooleanField(
        required=False,
        help_text="common_mode: near the open jig `rejection_db` is the least that is certain, and the band "
        "is judged by it; `rejection_raw_db` stays the reading.",
    )
    resistance_ohm = band_figure_field("common_mode: series resistance; worst is the smallest.")
    impedance_ohm = band_figure_field(
        "common_mode: magnitude of the series impedance; worst is the smallest."
    )
    impedance_centre_ohm = Complex(required=False, allow_null=True)
    swr = band_figure_field("load_match.")
    return_loss_db = band_figure_field("load_match.")
    input_centre_ohm = Complex(required=False, allow_null=True)
    loss_db = band_figure_field("insertion_loss, balance.")
    dissipative_db = band_figure_field("insertion_loss: the part that becomes heat.")
    mismatch_db = band_figure_field("insertion_loss: the part that is reflected.")
    halved_db = band_figure_field("back_to_back: half of the pair's loss, as it is usually read; biased.")
    heat_w_per_100_w = band_figure_field(
        "insertion_loss: heat for 100 W in, worst only. No power rating follows from it."
    )
    uncertainty_db = band_figure_field("insertion_loss: worst only; repeats `uncertainty.loss_db`.")
    amplitude_imbalance_db = band_figure_field("balance; worst is the largest magnitude.")
    phase_imbalance_deg = band_figure_field("balance; worst is the largest magnitude.")
    cmrr_db = band_figure_field("balance: 20 log10 |Sds/Scs|.")
    swr_through = band_figure_field("in_situ: through the device.")
    swr_bypassed = band_figure_field("in_situ: with the device bypassed.")
    finding = serializers.ChoiceField(FINDINGS, required=False, allow_null=True, help_text="in_situ.")
    through_since_commissioning = CurveChange(
        required=False, help_text="in_situ, with `first_through`: today's sweep against it."
    )
    bypassed_since_commissioning = CurveChange(
        required=False, help_text="in_situ, with `first_bypassed`: today's sweep against it."
    )


class ResultSpan(VerbatimSerializer):
    """What the sweep covers."""

    start_hz = number_field("First frequency.")
    stop_hz = number_field("Last frequency.")
    points = serializers.IntegerField()


class ResultMeasured(VerbatimSerializer):
    """Which S-parameters were measured, by name; a column that was not is never used."""

    s11 = serializers.BooleanField()
    s21 = serializers.BooleanField()
    s12 = serializers.BooleanField()
    s22 = serializers.BooleanField()


class ResultFlag(VerbatimSerializer):
    """A warning beside a figure so that nobody believes it blindly."""

    code = text_field("Stable.")
    severity = serializers.ChoiceField(SEVERITIES, help_text="`exclude`: kept, and left out of evidence.")
    message = text_field("What it means and what to do.")
    band = text_field("The band it concerns; null: the whole test.", nullable=True)


class ResultInput(VerbatimSerializer):
    """A file that was read."""

    role = text_field("The multipart field of the file, or `readings`.")
    source = text_field("How it was read: touchstone, csv, readings.")
    points = serializers.IntegerField()
    start_hz = number_field("First frequency.")
    stop_hz = number_field("Last frequency.")
    notes = serializers.ListField(child=serializers.CharField(), help_text="How the file was interpreted.")


class PairDevice(VerbatimSerializer):
    """One device of an insertion loss test by pairs."""

    label = text_field("Its letter.")
    bands = BandResult(many=True)


class BelievableMethod(VerbatimSerializer):
    """A method of insertion loss that can be believed on the analyser of the test."""

    method = text_field("As in `method`.")
    also_sweep = text_field("Role of the sweep that it needs besides; empty: none.")
    uncertainty_db = number_field("U (95 %) that it reaches on a sound device of 0.3 dB.")


class DcReading(VerbatimSerializer):
    """A reading of an ohmmeter between two terminals."""

    to = text_field("The other terminal.")
    ohm = number_field("As read; null: open.")
    expected = serializers.ChoiceField(("joined", "open", "bleeder"), allow_null=True)
    holds = serializers.BooleanField(allow_null=True, help_text="Null: nothing is expected.")

    def get_fields(self) -> dict[str, serializers.Field]:
        """Add the terminal `from`, which is no name that a class can hold."""
        return {**super().get_fields(), "from": text_field("C coax centre, S shell, A or B.")}


class ResultSummary(VerbatimSerializer):
    """Figures of the whole sweep; which ones are there depends on the kind."""

    benchmark_db = number_field("common_mode: what it was held against.", optional=True)
    meets_from_hz = number_field("common_mode: lower end of the widest span that meets it.", optional=True)
    meets_to_hz = number_field("common_mode: upper end of it.", optional=True)
    self_resonance_hz = number_field("common_mode: where the reactance passes through zero.", optional=True)
    peak_impedance_ohm = number_field("common_mode.", optional=True)
    peak_impedance_hz = number_field("common_mode: where that is.", optional=True)
    inductance_h = number_field("common_mode: at low frequencies.", optional=True)
    stray_capacitance_f = number_field("common_mode: that fits above resonance.", optional=True)
    floor_db = number_field("common_mode: rejection of the open jig, where it is lowest.", optional=True)
    rejection_judged = text_field("common_mode: raw, normalised or compensated.", optional=True)
    load_ohm = number_field("load_match: as measured.", optional=True)
    nominal_load_ohm = number_field("load_match: ratio times 50.", optional=True)
    load_alone_swr = number_field("load_match: of the resistor alone.", optional=True)
    swr_limit = number_field("load_match.", optional=True)
    loss_limit_db = number_field("insertion_loss.", optional=True)
    ratio_floor_db = number_field(
        "insertion_loss, direct: mismatch that the ratio itself makes.", optional=True
    )
    assumption = text_field("insertion_loss: what the method takes for granted.", optional=True)
    jig_normalised = serializers.BooleanField(
        required=False, help_text="insertion_loss: divided by the jig's through."
    )
    believable_methods = BelievableMethod(
        many=True,
        required=False,
        help_text="insertion_loss: methods whose U stays within 0.25 dB on this analyser, the least U first.",
    )
    readings = DcReading(many=True, required=False, help_text="dc: each reading.")
    meets = serializers.BooleanField(required=False, allow_null=True, help_text="dc: null: not settled.")
    dc_type = serializers.ChoiceField(
        DC_TYPES, required=False, allow_null=True, help_text="Of dc: the type of the device."
    )
    options = serializers.ListField(
        child=serializers.CharField(), required=False, help_text="Of dc: what else the device has."
    )
    shows_broken_wire = serializers.BooleanField(
        required=False, help_text="dc: whether good readings rule out a broken wire in this type."
    )
    insulation_mohm = number_field("dc: dry, as read.", optional=True)
    insulation_wet_mohm = number_field("dc: wet, as read.", optional=True)
    joined_at_most_ohm = number_field("dc: house default.", optional=True)
    open_at_least_ohm = number_field("dc: house default.", optional=True)
    devices = PairDevice(many=True, required=False, help_text="insertion_loss by pairs: each device.")
    residual_db = number_field("insertion_loss by pairs: how far the pairs disagree.", optional=True)
    amplitude_limit_db = number_field("balance.", optional=True)
    phase_limit_deg = number_field("balance.", optional=True)
    loss_assumption = text_field("balance: what the loss refers to.", optional=True, nullable=True)
    finding = serializers.ChoiceField(
        FINDINGS, required=False, allow_null=True, help_text="in_situ, over all asked bands."
    )
    through_since_commissioning = serializers.ChoiceField(
        CHANGES, required=False, help_text="in_situ: through the device, over all bands."
    )
    bypassed_since_commissioning = serializers.ChoiceField(
        CHANGES, required=False, help_text="in_situ: with the jumper, over all bands."
    )


class Result(VerbatimSerializer):
    """What was computed from a test. A value that does not exist is null, and a flag says why."""

    kind = serializers.ChoiceField(KINDS)
    method = text_field("The method used; named also where it was chosen from the files.")
    ratio = text_field("Impedance ratio.")
    reference_ohm = number_field("Reference of the sweep.")
    engine_version = text_field("What computed it.")
    span = ResultSpan()
    measured = ResultMeasured()
    bands = BandResult(many=True)
    summary = ResultSummary()
    flags = ResultFlag(many=True)
    inputs = ResultInput(many=True)


class ResultParts(VerbatimSerializer):
    """A figure of a band in a table, in the unit that the metric's name ends with; SWR has none."""

    worst = number_field("At the worst point of the band, in the metric's unit.")
    worst_hz = number_field("Where that is, Hz.")
    centre = number_field("At the centre of the band, in the metric's unit.")
    best = number_field("At the best point of the band, in the metric's unit.")


class BandRecord(VerbatimSerializer):
    """One band of one own test as a row; metrics of other kinds are null."""

    test = text_field("Key of the test.")
    device = text_field("Key of the device.")
    device_tag = text_field("What is written on it.")
    design = text_field("Key of its design; null while its build is not known.", nullable=True)
    kind = serializers.ChoiceField(KINDS, help_text="Kind of the test.")
    method = text_field("The method used.")
    ratio = text_field("Impedance ratio such as `4:1`.", nullable=True)
    measured_on = serializers.DateField(help_text="Day of the measurement.")
    night = text_field("Key of its club night; null elsewhere.", nullable=True)
    evidence = serializers.ChoiceField(("counts", "left_out"), help_text="Whether it counts as evidence.")
    band = text_field("Name of the band.")
    start_hz = number_field("Lower edge of the band, Hz.")
    stop_hz = number_field("Upper edge of the band, Hz.")
    points_in_band = serializers.IntegerField(allow_null=True, help_text="Measured points inside.")
    coverage = serializers.ChoiceField(COVERAGES, allow_null=True, help_text="How much the sweep covers.")
    meets = serializers.BooleanField(allow_null=True, help_text="Null: too close to call, or not judged.")
    decision = serializers.ChoiceField(DECISIONS, help_text="As in the test's result.")

    def get_fields(self) -> dict[str, serializers.Field]:
        """Add the metrics, their uncertainties and the flags."""
        parts = {
            name: ResultParts(allow_null=True, help_text="Null in tests of other kinds.")
            for name in band_results.METRICS
        }
        return {
            **super().get_fields(),
            **parts,
            "uncertainty": ResultUncertainty(help_text="U (95 %) of the worst figures."),
            "flags": text_field("Codes of its flags and of those of the whole test, blanks between."),
        }


class ResultUncertainty(VerbatimSerializer):
    """U (95 %) of the worst figure of each metric, in the unit that its name ends with."""

    def get_fields(self) -> dict[str, serializers.Field]:
        """Add one figure for each metric."""
        return {
            name: number_field("In the unit of its name; null: not known.") for name in band_results.METRICS
        }
