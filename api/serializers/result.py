"""A result of the engine, as `measurements.rf.analysis` makes it.

Fields of a kind are there for that kind only; a value that does not exist is null and a flag says why.
"""

from __future__ import annotations

from rest_framework import serializers

from api.shown import Complex, Verbatim, number, words
from measurements.ingest.uploads import KINDS

COVERAGES = ("full", "interpolated", "partial", "none")
SEVERITIES = ("refuse", "exclude", "note")
FINDINGS = ("device_at_fault", "antenna_or_line_at_fault", "no_fault_found", "inconclusive")


class BandFigure(Verbatim):
    """A figure in a band, its edges included."""

    worst = number("At the worst point of the band.")
    worst_hz = number("Where that is.", optional=True)
    centre = number("At the centre of the band.", optional=True)
    best = number("At the best point of the band.", optional=True)


def figure(text: str) -> BandFigure:
    """A figure that tests of some kinds have."""
    return BandFigure(required=False, allow_null=True, help_text=text)


class BandResult(Verbatim):
    band = words("Its name, such as `40m`.")
    start_hz = number("Lower edge.", nullable=False)
    stop_hz = number("Upper edge.", nullable=False)
    points_in_band = serializers.IntegerField(help_text="Measured points inside.")
    coverage = serializers.ChoiceField(COVERAGES)
    meets = serializers.BooleanField(allow_null=True, help_text="Null: not judged; a flag says why.")
    rejection_db = figure("common_mode: -20 log10 |S21|.")
    resistance_ohm = figure("common_mode: series resistance; worst is the smallest.")
    reactance_ohm = figure("common_mode: series reactance.")
    impedance_ohm = figure("common_mode: magnitude of the series impedance; worst is the smallest.")
    impedance_centre_ohm = Complex(required=False, allow_null=True)
    swr = figure("load_match.")
    return_loss_db = figure("load_match.")
    input_centre_ohm = Complex(required=False, allow_null=True)
    loss_db = figure("insertion_loss, balance.")
    dissipative_db = figure("insertion_loss: the part that becomes heat.")
    mismatch_db = figure("insertion_loss: the part that is reflected.")
    halved_db = figure("back_to_back: half of the pair's loss, as it is usually read; biased.")
    heat_w_per_100_w = figure(
        "insertion_loss: heat for 100 W in, worst only. No power rating follows from it."
    )
    uncertainty_db = figure("insertion_loss: worst only.")
    amplitude_imbalance_db = figure("balance; worst is the largest magnitude.")
    phase_imbalance_deg = figure("balance; worst is the largest magnitude.")
    cmrr_db = figure("balance: 20 log10 |Sds/Scs|.")
    swr_through = figure("in_situ: through the device.")
    swr_bypassed = figure("in_situ: with the device bypassed.")
    finding = serializers.ChoiceField(FINDINGS, required=False, allow_null=True, help_text="in_situ.")


class ResultSpan(Verbatim):
    start_hz = number("First frequency.")
    stop_hz = number("Last frequency.")
    points = serializers.IntegerField()


class ResultMeasured(Verbatim):
    """Which S-parameters were measured, by name; a column that was not is never used."""

    s11 = serializers.BooleanField(required=False)
    s21 = serializers.BooleanField(required=False)
    s12 = serializers.BooleanField(required=False)
    s22 = serializers.BooleanField(required=False)


class ResultFlag(Verbatim):
    code = words("Stable.")
    severity = serializers.ChoiceField(SEVERITIES, help_text="`exclude`: kept, and left out of evidence.")
    message = words("What it means and what to do.")
    band = words("The band it concerns; null: the whole test.", nullable=True)


class ResultInput(Verbatim):
    role = words("The multipart field of the file, or `readings`.")
    source = words("How it was read: touchstone, csv, readings.")
    points = serializers.IntegerField()
    start_hz = number("First frequency.")
    stop_hz = number("Last frequency.")
    notes = serializers.ListField(child=serializers.CharField(), help_text="How the file was interpreted.")


class Result(Verbatim):
    kind = serializers.ChoiceField(KINDS)
    method = words("The method used; named also where it was chosen from the files.", nullable=True)
    ratio = words("Impedance ratio.")
    reference_ohm = number("Reference of the sweep.")
    engine_version = words("What computed it.")
    span = ResultSpan(allow_null=True)
    measured = ResultMeasured(allow_null=True)
    bands = BandResult(many=True)
    summary = serializers.DictField(help_text="Figures of the whole sweep; which ones depends on the kind.")
    flags = ResultFlag(many=True)
    inputs = ResultInput(many=True)
