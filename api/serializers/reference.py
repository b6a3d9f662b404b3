"""Reference rows, each with its source, how it is known, and as of when."""

from __future__ import annotations

from typing import Any

from rest_framework import serializers

from api.shown import Shown, Verbatim, number, words
from api.strict import StrictSerializer


class BandQuery(StrictSerializer):
    region = serializers.IntegerField(
        required=False, min_value=1, max_value=3, help_text="ITU region; the group's own by default."
    )
    on = serializers.DateField(
        required=False, help_text="The day whose band plan is asked for; today by default."
    )


class Sourced(Shown):
    source = words("Where the row comes from.")
    basis = words("How it is known, such as `regulation`, `maker` or `common practice`.")
    as_of = serializers.DateField(help_text="The day as of which the row was taken down.")
    note = words("Anything to know beside it; may be empty.")


class Band(Sourced):
    """An amateur allocation of an ITU region."""

    region = serializers.IntegerField(help_text="ITU region.")
    band = words("Its name, such as `40m`.")
    start_hz = number("Lower edge.", nullable=False)
    stop_hz = number("Upper edge.", nullable=False)
    valid_from = serializers.DateField()
    valid_to = serializers.DateField(allow_null=True, help_text="Null: until further notice.")


class Benchmark(Sourced):
    """A limit that tests are held against."""

    kind = words("The kind of test it holds for.")
    metric = words("The figure it limits.")
    value = number("The limit, in `unit`.", nullable=False)
    unit = words("`dB`, `deg`, or `1` for a ratio.")


class Permeability(Verbatim):
    """Complex relative permeability at one frequency."""

    frequency_hz = serializers.FloatField()
    mu_real = serializers.FloatField(help_text="Real part of the relative permeability (mu').")
    mu_imaginary = serializers.FloatField(help_text="Loss part of the relative permeability (mu'').")


class Mix(Sourced):
    """A ferrite material."""

    name = words("Catalogue number.")
    initial_permeability = number("Relative initial permeability.")
    curie_c = number("Curie temperature, in degrees Celsius.")
    resistivity_ohm_cm = number("Bulk resistivity.")
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

    part = words("The maker's part number.")
    shape = words("`toroid`, `binocular`, `bead`, `rod` or `other`.")
    outer_mm = number("Outer diameter or width.")
    inner_mm = number("Inner diameter.")
    height_mm = number("Height or length.")
    mix = words("Its ferrite material.")
    al_nh = number("Inductance per turn squared, in nanohenry.")
    al_tolerance_percent = number("Tolerance of it.")


class Conductor(Sourced):
    """What a winding may be made of."""

    name = words("What a recipe calls it.")
    outer_mm = number("Outer diameter.")
