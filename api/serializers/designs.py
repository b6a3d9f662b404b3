"""Designs, requests and replies."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    CountField,
    NumberField,
    RowSerializer,
    ShortListField,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    key_field,
    text_field,
)
from api.http.paging import PageQuery
from api.serializers.evidence import BandEvidence, JointEvidence
from measurements.charts.panel_layers import SCALES
from measurements.selectors.designs.design_filters import DESIGN_ORDERS
from measurements.services.designs.recipe_cores import SHAPES
from measurements.services.designs.recipes import MOST_TURNS, PRINCIPLES, PURPOSES, STYLES
from measurements.verdict.decision_rule import BENCHMARK_RANGE_DB, VERDICTS

# A recipe, as sent and as stored. `services.designs.designs` checks it and makes its normal form.

MM_HELP = "In millimetres."


class RecipeCore(VerbatimSerializer):
    """A core or a stack of them: by part number, or by shape, size and mix."""

    part = serializers.CharField(
        required=False, help_text="The maker's part number, in place of shape and size."
    )
    shape = serializers.ChoiceField(SHAPES, required=False)
    outer_mm = serializers.FloatField(required=False, help_text=MM_HELP)
    inner_mm = serializers.FloatField(required=False, help_text=MM_HELP)
    height_mm = serializers.FloatField(required=False, help_text=MM_HELP)
    mix = serializers.CharField(required=False, help_text="A name from `mixes/`, or `unknown`.")
    stacked = serializers.IntegerField(
        required=False, min_value=1, help_text="Cores on top of each other; 1 if left out."
    )


class RecipeWinding(VerbatimSerializer):
    """How it is wound."""

    turns = serializers.IntegerField(min_value=1, max_value=MOST_TURNS, help_text="Passes through the core.")
    style = serializers.ChoiceField(STYLES)
    split = serializers.BooleanField(required=False, help_text="Wound in two halves on opposite sides.")
    conductor = serializers.CharField(required=False, help_text="A name from `conductors/`, or `other`.")


class Recipe(VerbatimSerializer):
    """What devices of a design share. It is published, so it holds no free text."""

    purpose = serializers.ChoiceField(PURPOSES)
    principle = serializers.ChoiceField(PRINCIPLES, required=False, help_text="May be left out for a choke.")
    ratio = serializers.CharField(help_text="Impedance ratio such as `4:1`.")
    cores = RecipeCore(many=True)
    winding = RecipeWinding()


MOST_BANDS = 40  # more than any band plan has

LOW_DB, HIGH_DB = BENCHMARK_RANGE_DB


class BenchmarkQuery(StrictSerializer):
    benchmark_db = NumberField(
        required=False,
        min_value=LOW_DB,
        max_value=HIGH_DB,
        help_text=(
            "Rejection that the worst point of a band is held against; the group's own by default. "
            "In steps of 0.5 dB without signing in."
        ),
    )


class EvidenceQuery(BenchmarkQuery):
    band = ShortListField(
        child=TextField(max_length=12),
        required=False,
        max_length=MOST_BANDS,
        help_text="A band such as `40m`, or several by repeating the word; all bands by default.",
    )


class DesignQuery(PageQuery, EvidenceQuery):
    """Filters of `designs/`; several bands are judged jointly, device by device."""

    ratio = TextField(required=False, max_length=16, help_text="Impedance ratio such as `4:1`.")
    purpose = serializers.ChoiceField(PURPOSES, required=False)
    principle = serializers.ChoiceField(PRINCIPLES, required=False)
    mix = TextField(required=False, max_length=16, help_text="Ferrite material, such as `31`.")
    core = TextField(required=False, max_length=64, help_text="A part number, or part of one.")
    turns_min = serializers.IntegerField(required=False, min_value=1, max_value=MOST_TURNS)
    turns_max = serializers.IntegerField(required=False, min_value=1, max_value=MOST_TURNS)
    style = serializers.ChoiceField(STYLES, required=False)
    verdict = serializers.ChoiceField(VERDICTS, required=False, help_text="On the bands asked for.")
    order = serializers.ChoiceField(
        DESIGN_ORDERS, default=DESIGN_ORDERS[0], help_text="By what the list is ordered, best first."
    )


class Design(RowSerializer):
    """A recipe that devices share, and what the evidence supports for it."""

    id = key_field()
    title = text_field("Readable form of the recipe.")
    recipe = Recipe()
    purpose = text_field("See the recipe.")
    principle = text_field("See the recipe.")
    ratio = text_field("See the recipe.")
    mix = text_field("Ferrite material of its cores.")
    core = text_field("Its cores by name.")
    core_count = serializers.IntegerField(help_text="Cores in all.")
    turns = serializers.IntegerField()
    style = text_field("See the recipe.")
    evidence = BandEvidence(many=True, help_text="One object per band asked for.")
    joint = JointEvidence(
        allow_null=True, help_text="All bands asked for together, device by device; null under two."
    )
    own_devices = serializers.IntegerField(help_text="How many devices of this design are yours.")


class CurveStatistics(VerbatimSerializer):
    """Numbers on the frequencies of `freq_hz`; null where there are too few people to show it."""

    median = serializers.ListField(child=serializers.FloatField(allow_null=True), allow_null=True)
    p10 = serializers.ListField(child=serializers.FloatField(allow_null=True), allow_null=True)
    p90 = serializers.ListField(child=serializers.FloatField(allow_null=True), allow_null=True)


class DesignCurves(RowSerializer):
    """Point by point statistics of the released curves of a design's devices; not one device's curve."""

    freq_hz = serializers.ListField(child=serializers.FloatField())
    rejection_db = CurveStatistics()
    resistance_ohm = CurveStatistics()
    reactance_ohm = CurveStatistics()
    impedance_ohm = CurveStatistics()
    devices = CountField(
        help_text="Devices behind the curves: a number for members, `5-9` and the like for the public."
    )


# What one may ask of a chart.


class ChartQuery(StrictSerializer):
    scale = serializers.ChoiceField(SCALES, default=SCALES[0], help_text="Of the frequency axis.")


class DesignChartQuery(ChartQuery, BenchmarkQuery):
    """Scale and benchmark."""


CURVE_STATISTICS = ("median", "p10", "p90")


class CurveQuery(StrictSerializer):
    curve = serializers.ChoiceField(
        CURVE_STATISTICS,
        default="median",
        help_text="Which curve a Touchstone file holds; the other forms hold all.",
    )
