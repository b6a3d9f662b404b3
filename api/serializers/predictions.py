"""Predictions and identifications, requests and replies."""

from __future__ import annotations

from rest_framework import serializers

from api.http.fields import (
    NumberField,
    ObjectField,
    RowSerializer,
    ShortListField,
    StrictSerializer,
    TextField,
    VerbatimSerializer,
    number_field,
    text_field,
)
from api.serializers.designs import HIGH_DB, LOW_DB, MOST_BANDS, CurveStatistics, Recipe
from measurements.selectors.predictions.proposals import STACKS
from measurements.services.designs.recipes import STYLES

MOST_PROPOSALS = 30
LIMITS = ("inductance", "resonance")
ANSWERS = ("one", "cannot_tell", "none_fits")
BENCHMARK_HELP = "Rejection that the worst point of a band is held against; the group's own by default."


class PredictQuery(StrictSerializer):
    """What is to be wound, and what for."""

    band = ShortListField(
        child=TextField(max_length=12),
        min_length=1,
        max_length=MOST_BANDS,
        help_text="A band such as `40m`, or several by repeating the word; all must be met together.",
    )
    benchmark_db = NumberField(required=False, min_value=LOW_DB, max_value=HIGH_DB, help_text=BENCHMARK_HELP)
    ratio = TextField(
        default="1:1",
        max_length=16,
        help_text="Impedance ratio of a choke or current balun: 1:1, 4:1, 9:1, 16:1.",
    )
    style = serializers.ChoiceField(STYLES, default="coax")
    conductor = TextField(default="other", max_length=64, help_text="A name from `conductors/`, or `other`.")
    split = serializers.BooleanField(default=False, help_text="Wound in two halves on opposite sides.")
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
    stacked = serializers.ChoiceField(
        STACKS, default=2, help_text="At most so many cores on top of each other."
    )
    limit = serializers.IntegerField(min_value=1, max_value=MOST_PROPOSALS, default=12)


class PredictBody(StrictSerializer):
    """A recipe, and what it is held against."""

    recipe = ObjectField(help_text="As `POST designs/` takes it; nothing is stored.")
    bands = ShortListField(child=TextField(max_length=12), required=False, max_length=MOST_BANDS)
    benchmark_db = NumberField(required=False, min_value=LOW_DB, max_value=HIGH_DB, help_text=BENCHMARK_HELP)


class PredictSent(VerbatimSerializer):
    """A recipe, and what it is held against."""

    recipe = Recipe()
    bands = serializers.ListField(child=serializers.CharField(), required=False)
    benchmark_db = serializers.FloatField(
        required=False, min_value=LOW_DB, max_value=HIGH_DB, help_text=BENCHMARK_HELP
    )


class Interval(VerbatimSerializer):
    """Of new devices: the 10th percentile, the median, the 90th; nulls where nothing can be said."""

    p10 = number_field("One new device in ten is below.")
    median = number_field("Half are below.")
    p90 = number_field("One in ten is above.")


class BandChance(RowSerializer):
    """A band of a prediction."""

    band = text_field("Its name.")
    chance = number_field(
        "Of a new device to meet the benchmark there; null where the mix's table ends short of it."
    )
    rejection_db = Interval(help_text="Worst point in the band.")
    limit = serializers.ChoiceField(
        LIMITS,
        allow_null=True,
        help_text="Why it may fall short: short of inductance, or above its resonance; null: likely to meet.",
    )


class NearDesign(RowSerializer):
    """A design with evidence near a prediction."""

    design = text_field("Its key.")
    title = text_field("Readable form of its recipe.")
    same = serializers.BooleanField(help_text="Whether it is this recipe, as far as the model sees it.")


class RestsOn(RowSerializer):
    """What stands behind a prediction."""

    mix = text_field("Ferrite material.")
    learned = serializers.BooleanField(help_text="Whether evidence of this mix, or the maker's table alone.")
    designs = serializers.IntegerField(help_text="Designs of this mix that were learned from.")
    devices = serializers.IntegerField(help_text="Their devices, at least.")
    release = serializers.IntegerField(allow_null=True, help_text="Learned from; null: from none.")
    table_from_hz = number_field("Where the maker's table begins.", nullable=False)
    table_to_hz = number_field("Where it ends: beyond it nothing is predicted.", nullable=False)


class Caution(RowSerializer):
    """What can hurt someone."""

    title = text_field("A few words.")
    text = text_field("The sentence.")


class Proposal(RowSerializer):
    """A core and its turns."""

    title = text_field("In words.")
    recipe = Recipe(help_text="As `POST designs/` and `POST predict/` take it.")
    part = text_field("The maker's part number.")
    mix = text_field("Ferrite material.")
    stacked = serializers.IntegerField(help_text="Cores on top of each other; of beads: on one cable.")
    cores_in_all = serializers.IntegerField(help_text="Cores it takes altogether.")
    turns = serializers.IntegerField(help_text="Passes through the core.")
    turns_from = serializers.IntegerField(help_text="From so many turns on it does about as well.")
    turns_to = serializers.IntegerField(help_text="Up to so many.")
    turns_that_fit = serializers.IntegerField(help_text="In one layer in the bore, at most 30.")
    wire_mm = number_field("Over the insulation, as the bore was checked with.", nullable=False)
    wire_assumed = serializers.BooleanField(help_text="Whether the list gives no size for this conductor.")
    chance = number_field("Of a new device to meet the benchmark on all bands; no promise.", nullable=False)
    bands = BandChance(many=True)
    why = text_field("What limits it, in words.")
    built = serializers.BooleanField(help_text="Whether there is released evidence of this recipe to see.")
    near = NearDesign(many=True, help_text="Up to three designs with evidence, the likest first.")
    rests_on = RestsOn()


class PassedOver(VerbatimSerializer):
    """A mix on hand that nothing can be said of."""

    mix = text_field("Ferrite material.")
    why = text_field("Why not.")


class Errors(VerbatimSerializer):
    """Median absolute errors of worst-in-band rejection, dB; nulls where nothing compares."""

    model_db = number_field("Of the model.")
    physics_db = number_field("Of the published tables alone.")
    nearest_db = number_field("Of the nearest other design, taken as it is.")
    figures = serializers.IntegerField(help_text="Designs times bands compared.")


class Validation(VerbatimSerializer):
    """Each design left out once and predicted from the others."""

    designs = serializers.IntegerField(help_text="With evidence that was learned from.")
    left_out = serializers.IntegerField(help_text="Left out one by one.")
    devices = serializers.IntegerField(help_text="Whose figures were compared; 0 for the public.")
    coverage = number_field("Share of their figures within the 80 % interval; null for the public.")
    errors = Errors()
    by_mix = serializers.DictField(child=Errors(), help_text="The same, by mix.")
    better = serializers.BooleanField(
        allow_null=True, help_text="Whether the model errs less than both rivals; null: nothing to compare."
    )


class Proposals(VerbatimSerializer):
    """Ranked proposals for a wish, the likeliest first."""

    results = Proposal(many=True)
    bands = serializers.ListField(child=serializers.CharField())
    benchmark_db = number_field("Held against.", nullable=False)
    tried = serializers.IntegerField(help_text="Windings that were compared.")
    passed_over = PassedOver(many=True)
    release = serializers.IntegerField(allow_null=True, help_text="Learned from; null: the tables alone.")
    validation = Validation(allow_null=True, help_text="How well the model does; null: not validated yet.")
    cautions = Caution(many=True)


class Prediction(RowSerializer):
    """What new devices of a recipe are likely to show."""

    title = text_field("Readable form of the recipe.")
    recipe = Recipe()
    freq_hz = serializers.ListField(child=serializers.FloatField())
    rejection_db = CurveStatistics()
    resistance_ohm = CurveStatistics()
    reactance_ohm = CurveStatistics()
    impedance_ohm = CurveStatistics()
    self_resonance_hz = Interval()
    stray_capacitance_f = number_field("Of one line's winding, by the law.", nullable=False)
    chance = number_field(
        "To meet the benchmark on all bands asked; null without bands, or where one is not covered."
    )
    bands = BandChance(many=True)
    benchmark_db = number_field("Held against.", nullable=False)
    covered_from_hz = number_field("Where the maker's table begins.", nullable=False)
    covered_to_hz = number_field("Where it ends: nothing is extrapolated.", nullable=False)
    note = text_field("Where table and evidence end, in words.")
    why = text_field("What limits it; empty without bands.")
    fits = serializers.BooleanField(
        allow_null=True,
        help_text="Whether the turns lie in one layer in the bore; null: a size is not known.",
    )
    built = serializers.BooleanField(help_text="Whether there is released evidence of this recipe to see.")
    near = NearDesign(many=True)
    rests_on = RestsOn()
    cautions = Caution(many=True)


class IdentifyForm(StrictSerializer):
    """An unmarked core with turns on it, swept as a common-mode test."""

    turns = serializers.IntegerField(min_value=1, max_value=200, help_text="Turns on the core.")
    outer_mm = serializers.FloatField(
        required=False, help_text="Outer diameter, with the other two or without."
    )
    inner_mm = serializers.FloatField(required=False, help_text="Inner diameter.")
    height_mm = serializers.FloatField(required=False, help_text="Height of one core.")
    stacked = serializers.IntegerField(required=False, default=1, min_value=1, max_value=200)
    sweep = serializers.FileField(help_text="The winding between the ports, as in a common-mode test.")
    sweep_reversed = serializers.FileField(required=False)
    jig_through = serializers.FileField(required=False)
    jig_open = serializers.FileField(required=False)
    jig_short = serializers.FileField(required=False)


class MixFit(RowSerializer):
    """How a mix fits the sweep."""

    mix = text_field("Ferrite material.")
    share = number_field("How likely among the mixes with a table, 0 to 1.", nullable=False)
    left_over = number_field("How far off it is, relative, root mean square.", nullable=False)
    ruled_out = serializers.BooleanField(help_text="Below one in a hundred.")
    factor_m = number_field("Ae/le of the core that fits, metres.", nullable=False)
    a_l_h = number_field("With it, inductance per turn squared at low frequency.")
    stray_capacitance_f = number_field("Beside the winding.", nullable=False)
    impedance_ohm = serializers.ListField(child=serializers.FloatField(), help_text="As it would show.")


class Decider(RowSerializer):
    """A further sweep that tells the likeliest two apart."""

    turns = serializers.IntegerField()
    from_hz = number_field("Sweep from here.", nullable=False)
    to_hz = number_field("To here.", nullable=False)
    settles = serializers.BooleanField(help_text="Whether it would settle it, or only help.")


class Identification(RowSerializer):
    """Which mix a core is."""

    answer = serializers.ChoiceField(ANSWERS)
    sentence = text_field("The answer in words.")
    mixes = MixFit(many=True, help_text="Likeliest first.")
    untabled = serializers.ListField(
        child=serializers.CharField(), help_text="Mixes without a table, which cannot be ruled out."
    )
    deciders = Decider(many=True, help_text="Best first; none where one mix is named.")
    turns = serializers.IntegerField()
    freq_hz = serializers.ListField(child=serializers.FloatField(), help_text="Compared at these.")
    impedance_ohm = serializers.ListField(child=serializers.FloatField(), help_text="As swept.")
    covered_from_hz = number_field("Compared from here.", nullable=False)
    covered_to_hz = number_field("To here.", nullable=False)
    note = text_field("What part of the sweep was compared.")
