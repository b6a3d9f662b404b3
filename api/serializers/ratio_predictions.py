"""Predictions of ratio devices, request and reply."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    NumberField,
    RowSerializer,
    ShortListField,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    number_field,
    text_field,
)
from api.serializers.designs import MOST_BANDS
from api.serializers.predictions import Caution, Interval, PassedOver
from measurements.rf.ferrites.ratio_prediction import LOSS_LIMIT_DB, SWR_LIMIT
from measurements.selectors.predictions.ratio_predictions import (
    MOST_STACKED,
    MOST_TURNS,
    STYLES_BY_PRINCIPLE,
)

PRINCIPLES = tuple(STYLES_BY_PRINCIPLE)
STYLES = tuple(dict.fromkeys(style for each in STYLES_BY_PRINCIPLE.values() for style in each))
MOST_RATIO_PROPOSALS = 8


class PredictRatioQuery(StrictSerializer):
    """What ratio device is to be wound, and what for."""

    band = ShortListField(
        child=TextField(max_length=12),
        min_length=1,
        max_length=MOST_BANDS,
        help_text="A band such as `40m`, or several by repeating the word.",
    )
    ratio = TextField(max_length=16, help_text="Impedance ratio: 4:1, 9:1, 49:1 or another, 1.5:1 to 100:1.")
    principle = serializers.ChoiceField(
        PRINCIPLES,
        default="voltage",
        help_text="`voltage`: a transformer on one core; `current`: equal lines, a core for each.",
    )
    style = serializers.ChoiceField(STYLES, default="single")
    conductor = TextField(default="other", max_length=64, help_text="A name from `conductors/`, or `other`.")
    mix = ShortListField(
        child=TextField(max_length=16),
        required=False,
        max_length=40,
        help_text="Mixes in the drawer; all by default.",
    )
    core = ShortListField(
        child=TextField(max_length=32),
        required=False,
        max_length=100,
        help_text="Part numbers in the drawer; the whole catalogue by default.",
    )
    stacked = serializers.IntegerField(
        min_value=1,
        max_value=MOST_STACKED,
        default=2,
        help_text="Cores on top of each other: at most; with `turns`, exactly.",
    )
    turns = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST_TURNS,
        help_text="Of the unbalanced side: with one `core`, this winding alone is predicted.",
    )
    far_turns = serializers.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST_TURNS,
        help_text="Of the far side; by the ratio if left out.",
    )
    capacitor_f = NumberField(
        required=False,
        min_value=0,
        max_value=1e-9,
        help_text="Across the unbalanced side; `best_capacitor` chooses one.",
    )
    best_capacitor = serializers.BooleanField(default=False, help_text="Try 47 to 220 pF there.")
    loss_limit_db = NumberField(
        required=False,
        min_value=0.05,
        max_value=3,
        help_text=f"Largest loss at the worst point of a band, into the nominal load; {LOSS_LIMIT_DB:g} by "
        "default.",
    )
    swr_limit = NumberField(
        required=False,
        min_value=1.05,
        max_value=5,
        help_text="Largest SWR at the worst point of a band, at the unbalanced side, to 50 ohm; "
        f"{SWR_LIMIT:g} by default.",
    )
    limit = serializers.IntegerField(
        min_value=1, max_value=MOST_RATIO_PROPOSALS, default=MOST_RATIO_PROPOSALS
    )


class RatioBand(RowSerializer):
    """Worst point of a band: new devices."""

    band = text_field("Its name.")
    loss_db = Interval(help_text="Into the nominal load, mismatch and dissipation together.")
    swr = Interval(help_text="At the unbalanced side, 50 ohm.")
    dissipative_db = Interval(help_text="The part of the loss that turns into heat.")
    heat_w_per_100_w = Interval(help_text="Of 100 W, by small-signal loss. No power rating follows from it.")
    chance = number_field("To hold both limits; null where nothing is predicted.")
    why_not = text_field("Why nothing is predicted; empty where it is.")


class RatioProposal(RowSerializer):
    """A core, its turns and its capacitor."""

    title = text_field("In words.")
    part = text_field("The maker's part number.")
    mix = text_field("Ferrite material.")
    stacked = serializers.IntegerField(help_text="Cores on top of each other.")
    cores_in_all = serializers.IntegerField(help_text="Cores it takes altogether.")
    near_turns = serializers.IntegerField(help_text="Turns at the unbalanced side; of a line, its turns.")
    far_turns = serializers.IntegerField(help_text="Turns between the far terminals.")
    wound_ratio = number_field("Impedance ratio of these turns.", nullable=False)
    compensation_f = number_field("Across the unbalanced side; 0: none.", nullable=False)
    wire_m = number_field("Wire between the far terminals, or of one line.", nullable=False)
    fits = serializers.BooleanField(help_text="Whether the turns lie in one layer in the bore.")
    bands = RatioBand(many=True)
    chance = number_field("The smallest of the bands; null where one is not predicted.")


class RatioProposals(VerbatimSerializer):
    """Ranked ratio devices, the likeliest first, or the one asked for."""

    results = RatioProposal(many=True)
    bands = serializers.ListField(
        child=serializers.CharField(), help_text="Names of the bands of the question, such as `40m`."
    )
    ratio = text_field("As the trade writes it.")
    principle = serializers.ChoiceField(PRINCIPLES, help_text="The principle of the question.")
    loss_limit_db = number_field("Held against.", nullable=False)
    swr_limit = number_field("Held against.", nullable=False)
    passed_over = PassedOver(many=True)
    release = serializers.IntegerField(allow_null=True, help_text="Learned from; null: the tables alone.")
    rests_on = text_field("Sources of the figures, in words.")
    cautions = Caution(many=True)
