"""A recipe: as it is sent and as it is kept. `ingest.designs` checks it and makes its normal form."""

from __future__ import annotations

from rest_framework import serializers

from api.shown import Verbatim
from measurements.ingest.recipe import MOST_TURNS, PRINCIPLES, PURPOSES, STYLES
from measurements.ingest.recipe_cores import SHAPES

MM = "In millimetres."


class RecipeCore(Verbatim):
    """A core or a stack of them: by part number, or by shape, size and mix."""

    part = serializers.CharField(
        required=False, help_text="The maker's part number, in place of shape and size."
    )
    shape = serializers.ChoiceField(SHAPES, required=False)
    outer_mm = serializers.FloatField(required=False, help_text=MM)
    inner_mm = serializers.FloatField(required=False, help_text=MM)
    height_mm = serializers.FloatField(required=False, help_text=MM)
    mix = serializers.CharField(required=False, help_text="A name from `mixes/`, or `unknown`.")
    stacked = serializers.IntegerField(
        required=False, min_value=1, help_text="Cores on top of each other; 1 if left out."
    )


class RecipeWinding(Verbatim):
    """How it is wound."""

    turns = serializers.IntegerField(min_value=1, max_value=MOST_TURNS, help_text="Passes through the core.")
    style = serializers.ChoiceField(STYLES)
    split = serializers.BooleanField(required=False, help_text="Wound in two halves on opposite sides.")
    conductor = serializers.CharField(required=False, help_text="A name from `conductors/`, or `other`.")


class Recipe(Verbatim):
    """What devices of a design share. It is published, so it holds no free text."""

    purpose = serializers.ChoiceField(PURPOSES)
    principle = serializers.ChoiceField(PRINCIPLES, required=False, help_text="May be left out for a choke.")
    ratio = serializers.CharField(help_text="Impedance ratio such as `4:1`.")
    cores = RecipeCore(many=True)
    winding = RecipeWinding()
