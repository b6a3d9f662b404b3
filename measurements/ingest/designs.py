"""Registers designs: the recipe in normal form, once."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.ingest import audit, recipe
from measurements.ingest.recipe import Alias, Catalogue, ListedCore, Recipe
from measurements.ingest.stored import Stored
from measurements.models import Conductor, Core, CoreAlias, Design, Mix


def register(*, by: Viewer, recipe_given: Any) -> Stored:
    """Files a recipe, or finds the design that already has it, or that one was merged into.

    Raises BenchnightError with every fault of the recipe, or where `by` is not signed in.
    """
    policy.check_signed_in(by)
    normal = preview(recipe_given)
    as_json = normal.as_json
    with transaction.atomic():
        design, created = Design.objects.get_or_create(
            recipe_sha256=normal.sha256,
            defaults={
                "recipe": as_json,
                "title": normal.title,
                "purpose": as_json["purpose"],
                "principle": as_json["principle"],
                "ratio": as_json["ratio"],
                "mix": normal.mix,
                "core": normal.core,
                "core_count": normal.core_count,
                "turns": as_json["winding"]["turns"],
                "style": as_json["winding"]["style"],
            },
        )
        if created:
            audit.note(by=by, action="design.register", subject=design.key)
    return Stored((design.merged_into or design).key, created)


_ALIAS = ("shape", "mix", "outer_mm", "inner_mm", "height_mm", "core__part")


def preview(recipe_given: Any) -> Recipe:
    """The normal form and the title of a recipe, without storing it.

    Raises BenchnightError with every fault of the recipe.
    """
    return recipe.normal(recipe_given, _catalogue())


def _catalogue() -> Catalogue:
    sizes = ("part", "shape", "mix", "outer_mm", "inner_mm", "height_mm")
    return Catalogue(
        cores=tuple(ListedCore(*row) for row in Core.objects.order_by("part").values_list(*sizes)),
        mixes=(*Mix.objects.order_by("name").values_list("name", flat=True), recipe.UNKNOWN_MIX),
        conductors=tuple(Conductor.objects.order_by("name").values_list("name", flat=True)),
        aliases=tuple(Alias(*row) for row in CoreAlias.objects.order_by("pk").values_list(*_ALIAS)),
    )
