"""Reference rows, each with its source, how it is known, and as of when."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.http.fields import RowSerializer, StrictSerializer, VerbatimSerializer, number_field, text_field


class BandQuery(StrictSerializer):
    region = serializers.IntegerField(
        required=False, min_value=1, max_value=3, help_text="ITU region; the group's own by default."
    )
    on = serializers.DateField(required=False, help_text="The day of the band plan; today by default.")


class Sourced(RowSerializer):
    source = text_field("Where the row comes from.")
    basis = text_field("How it is known, such as `regulation`, `maker` or `common practice`.")
    as_of = serializers.DateField(help_text="The day as of which the row was taken down.")
    note = text_field("Anything to know beside it; may be empty.")


class Band(Sourced):
    """An amateur allocation of an ITU region."""

    region = serializers.IntegerField(help_text="ITU region.")
    band = text_field("Its name, such as `40m`.")
    start_hz = number_field("Lower edge.", nullable=False)
    stop_hz = number_field("Upper edge.", nullable=False)
    valid_from = serializers.DateField()
    valid_to = serializers.DateField(allow_null=True, help_text="Null: until further notice.")


class Benchmark(Sourced):
    """A limit that tests are held against."""

    kind = text_field("The kind of test it holds for.")
    metric = text_field("The figure it limits.")
    value = number_field("The limit, in `unit`.", nullable=False)
    unit = text_field("`dB`, `deg`, or `1` for a ratio.")


class Permeability(VerbatimSerializer):
    """Complex relative permeability at one frequency."""

    frequency_hz = serializers.FloatField()
    mu_real = serializers.FloatField(help_text="Real part of the relative permeability (mu').")
    mu_imaginary = serializers.FloatField(help_text="Loss part of the relative permeability (mu'').")


class Mix(Sourced):
    """A ferrite material."""

    name = text_field("Catalogue number.")
    initial_permeability = number_field("Relative initial permeability.")
    curie_c = number_field("Curie temperature, in degrees Celsius.")
    resistivity_ohm_cm = number_field("Bulk resistivity.")
    permeability = Permeability(
        many=True, source="rows", help_text="Over frequency; empty where unpublished."
    )

    def to_representation(self, instance: Any) -> dict[str, Any]:
        shown = super().to_representation(instance)
        names = ("frequency_hz", "mu_real", "mu_imaginary")
        shown["permeability"] = [dict(zip(names, point, strict=True)) for point in instance.rows]
        return shown


class Core(Sourced):
    """A core that a maker lists."""

    part = text_field("The maker's part number.")
    name = text_field("As the trade says it: size name and mix, or shape and size.")
    shape = text_field("`toroid`, `binocular`, `bead`, `rod` or `other`.")
    outer_mm = number_field("Outer diameter or width.")
    inner_mm = number_field("Inner diameter.")
    height_mm = number_field("Height or length.")
    mix = text_field("Its ferrite material.")
    al_nh = number_field("Inductance per turn squared, in nanohenry.")
    al_tolerance_percent = number_field("Tolerance of it.")


class Conductor(Sourced):
    """What a winding may be made of."""

    name = text_field("What a recipe calls it.")
    outer_mm = number_field("Outer diameter.")
