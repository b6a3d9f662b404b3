"""Designs as they are asked for and shown."""

from __future__ import annotations

from rest_framework import serializers

from api.paging import PageQuery
from api.serializers.evidence import BandEvidence, JointEvidence
from api.serializers.recipe import Recipe
from api.shown import Count, Shown, Verbatim, key_field, words
from api.strict import Number, StrictSerializer, Text
from measurements.ingest.recipe import MOST_TURNS, PRINCIPLES, PURPOSES, STYLES
from measurements.queries.design_filters import ORDERS
from measurements.verdict.rule import BENCHMARK_RANGE_DB, VERDICTS

MOST_BANDS = 40  # more than any band plan has
LOW_DB, HIGH_DB = BENCHMARK_RANGE_DB


class BenchmarkQuery(StrictSerializer):
    benchmark_db = Number(
        required=False,
        min_value=LOW_DB,
        max_value=HIGH_DB,
        help_text=(
            "Rejection that the worst point of a band is held against; the group's own by default. "
            "In steps of 0.5 dB without signing in."
        ),
    )


class EvidenceQuery(BenchmarkQuery):
    band = serializers.ListField(
        child=Text(max_length=12),
        required=False,
        max_length=MOST_BANDS,
        help_text="A band such as `40m`, or several by repeating the word; all bands by default.",
    )


class DesignQuery(PageQuery, EvidenceQuery):
    """Filters of `designs/`; several bands are judged jointly, device by device."""

    ratio = Text(required=False, max_length=16, help_text="Impedance ratio such as `4:1`.")
    purpose = serializers.ChoiceField(PURPOSES, required=False)
    principle = serializers.ChoiceField(PRINCIPLES, required=False)
    mix = Text(required=False, max_length=16, help_text="Ferrite material, such as `31`.")
    core = Text(required=False, max_length=64, help_text="A part number, or part of one.")
    turns_min = serializers.IntegerField(required=False, min_value=1, max_value=MOST_TURNS)
    turns_max = serializers.IntegerField(required=False, min_value=1, max_value=MOST_TURNS)
    style = serializers.ChoiceField(STYLES, required=False)
    verdict = serializers.ChoiceField(VERDICTS, required=False, help_text="On the bands asked for.")
    order = serializers.ChoiceField(
        ORDERS, default=ORDERS[0], help_text="By what the list is ordered, best first."
    )


class Design(Shown):
    """A recipe that devices share, and what the evidence supports for it."""

    id = key_field()
    title = words("Readable form of the recipe.")
    recipe = Recipe()
    purpose = words("See the recipe.")
    principle = words("See the recipe.")
    ratio = words("See the recipe.")
    mix = words("Ferrite material of its cores.")
    core = words("Its cores by name.")
    core_count = serializers.IntegerField(help_text="Cores in all.")
    turns = serializers.IntegerField()
    style = words("See the recipe.")
    evidence = BandEvidence(many=True, help_text="One object per band asked for.")
    joint = JointEvidence(
        allow_null=True, help_text="All bands asked for together, device by device; null under two."
    )
    own_devices = serializers.IntegerField(help_text="How many devices of this design are yours.")


class CurveStatistics(Verbatim):
    """Numbers on the frequencies of `freq_hz`; null where there are too few devices to show it."""

    median = serializers.ListField(child=serializers.FloatField(allow_null=True), allow_null=True)
    p10 = serializers.ListField(child=serializers.FloatField(allow_null=True), allow_null=True)
    p90 = serializers.ListField(child=serializers.FloatField(allow_null=True), allow_null=True)


class DesignCurves(Shown):
    """Point by point statistics of the released curves of a design's devices; not one device's curve."""

    freq_hz = serializers.ListField(child=serializers.FloatField())
    rejection_db = CurveStatistics()
    resistance_ohm = CurveStatistics()
    reactance_ohm = CurveStatistics()
    impedance_ohm = CurveStatistics()
    devices = Count(
        help_text="Devices behind the curves: a number for members, `5-9` and the like for the public."
    )
    samples = serializers.ListField(
        child=serializers.ListField(child=serializers.FloatField(allow_null=True)),
        help_text="Rejection in dB of single devices in random order; members only, at most 40.",
    )
