"""Designs, requests and replies."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers
from rest_framework.exceptions import ValidationError

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
from api.http.paging import MAX_LIMIT, PageQuery
from api.serializers.evidence import BandEvidence, JointEvidence
from measurements.charts.panel_layers import SCALES
from measurements.selectors.designs.design_filters import DESIGN_ORDERS
from measurements.services.designs.build_phrases import MOST_CHARACTERS
from measurements.services.designs.recipe_cores import SHAPES
from measurements.services.designs.recipes import MOST_TURNS, PRINCIPLES, PURPOSES, STYLES
from measurements.verdict.decision_rule import BENCHMARK_RANGE_DB, VERDICTS
from measurements.verdict.judged_kinds import EVIDENCE_KINDS

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
LIMITED_KINDS = ("insertion_loss", "load_match")  # those that a limit is of; rejection has a benchmark
LOWEST_LIMIT, HIGHEST_LIMIT = 0.01, 10.0  # of loss and SWR; each has bounds of its own within


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


class KindQuery(BenchmarkQuery):
    kind = serializers.ChoiceField(
        EVIDENCE_KINDS,
        required=False,
        help_text="Of the tests; by default what each design is judged by first: rejection for chokes and "
        "current baluns, loss for voltage baluns and ununs.",
    )


class BandQuery(KindQuery):
    band = ShortListField(
        child=TextField(max_length=12),
        required=False,
        max_length=MOST_BANDS,
        help_text="A band such as `40m`, or several by repeating the word; all bands by default.",
    )


class EvidenceQuery(BandQuery):
    limit = NumberField(
        required=False,
        min_value=LOWEST_LIMIT,
        max_value=HIGHEST_LIMIT,
        help_text="Largest loss, dB, or SWR that the worst point of a band is held against, by `kind`; the "
        "group's own by default. In steps of 0.05 without signing in.",
    )


class DesignQuery(PageQuery, BandQuery):
    """Filters of `designs/`; several bands are judged jointly, device by device."""

    limit = NumberField(
        required=False,
        help_text="Beside `kind=insertion_loss` or `kind=load_match`: the largest loss, dB, or SWR, as in "
        f"the evidence of a design. Otherwise rows on a page, at most {MAX_LIMIT}, as in every list.",
    )
    page_size = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=MAX_LIMIT,
        help_text=f"Rows on a page, at most {MAX_LIMIT}, whatever `limit` is.",
    )

    q = TextField(
        required=False,
        max_length=MOST_CHARACTERS,
        help_text="A design as people say it, such as `12t RG-316 FT240-31`; every part of it has to fit.",
    )
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

    def validate(self, attrs: dict[str, Any]) -> dict[str, Any]:
        """Sort out what `limit` means: `metric_limit` beside a kind that has one, else rows on a page."""
        given, limited = attrs.pop("limit", None), attrs.get("kind") in LIMITED_KINDS
        if given is not None and limited:
            attrs["metric_limit"] = _check_field(EvidenceQuery, given)
        elif given is not None:
            attrs["limit"] = _check_field(PageQuery, int(given) if given == int(given) else given)
        if attrs.get("page_size") is not None:
            attrs["limit"] = attrs["page_size"]
        return attrs


def _check_field(words: type[StrictSerializer], given: float) -> Any:
    """Check a `limit` as these words would. Raises ValidationError that names it."""
    try:
        return words().fields["limit"].run_validation(given)
    except ValidationError as error:
        raise ValidationError({"limit": error.detail}) from error


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
    kind = serializers.ChoiceField(EVIDENCE_KINDS, help_text="Of the tests that the evidence is of.")
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


def _statistics_field(kind: str, text: str = "", *, nullable: bool = False) -> CurveStatistics:
    return CurveStatistics(required=False, allow_null=nullable, help_text=f"Of `{kind}`. {text}".strip())


class DesignCurves(RowSerializer):
    """Point by point statistics of the released curves of a design's devices; not one device's curve.

    Only the curves of its kind are there.
    """

    kind = serializers.ChoiceField(EVIDENCE_KINDS, help_text="Of the tests behind the curves.")
    freq_hz = serializers.ListField(child=serializers.FloatField())
    rejection_db = _statistics_field("common_mode")
    resistance_ohm = _statistics_field("common_mode")
    reactance_ohm = _statistics_field("common_mode")
    impedance_ohm = _statistics_field("common_mode")
    loss_db = _statistics_field("insertion_loss")
    dissipative_db = _statistics_field(
        "insertion_loss", "The part of the loss that becomes heat.", nullable=True
    )
    mismatch_db = _statistics_field("insertion_loss", "The rest of the median.", nullable=True)
    heat_w_per_100_w = _statistics_field(
        "insertion_loss", "At milliwatts; it is no power rating.", nullable=True
    )
    swr = _statistics_field("load_match")
    devices = CountField(
        help_text="Devices behind the curves: a number for members, `5-9` and the like for the public."
    )


# What one may ask of a chart.


class ChartQuery(StrictSerializer):
    scale = serializers.ChoiceField(SCALES, default=SCALES[0], help_text="Of the frequency axis.")


class DesignChartQuery(ChartQuery, KindQuery):
    """Scale, kind and benchmark."""


CURVE_STATISTICS = ("median", "p10", "p90")


class CurveQuery(StrictSerializer):
    kind = serializers.ChoiceField(
        EVIDENCE_KINDS,
        required=False,
        help_text="Of the tests; what the design is judged by first by default.",
    )
    curve = serializers.ChoiceField(
        CURVE_STATISTICS,
        default="median",
        help_text="Which curve a Touchstone file holds; the other forms hold all.",
    )
