"""Registers designs: the recipe in normal form, once."""

from __future__ import annotations

from typing import Any

from django.db import transaction

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import Conductor, Core, CoreAlias, Design, Mix
from measurements.models.read_once import read_catalogue
from measurements.services.designs import recipe_titles, recipes
from measurements.services.designs.build_phrases import MOST_CHARACTERS, Phrase, read_build_phrase
from measurements.services.designs.recipes import Alias, Catalogue, ListedCore, Recipe
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult


def register_design(*, by: Viewer, recipe_given: Any) -> WriteResult:
    """Return files a recipe, or finds the design that already has it, or that one was merged into.

    Raises BenchnightError with every fault of the recipe, or where `by` is not signed in.
    """
    policy.check_signed_in(by)
    normal = preview_design(recipe_given)
    with transaction.atomic():
        design, created = Design.objects.get_or_create(
            recipe_sha256=normal.sha256, defaults=_build_columns(normal)
        )
        if created:
            audit.record_action(by=by, action="design.register", subject=design.key)
    return WriteResult((design.merged_into or design).key, created)


def create_design(*, by: Viewer | None, normal: Recipe, key: str | None = None) -> Design:
    """Create the design of a recipe that no design has. Call inside a transaction.

    key: by which other servers know it already; None for a new one.
    """
    given = {} if key is None else {"key": key}
    design = Design.objects.create(recipe_sha256=normal.sha256, **_build_columns(normal), **given)
    audit.record_action(by=by, action="design.register", subject=design.key)
    return design


def _build_columns(normal: Recipe) -> dict[str, Any]:
    as_json = normal.as_json
    return {
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
    }


def retitle_designs() -> int:
    """Write each stored title as titles are written today, and answer how many changed.

    Reference data gives sizes and so names of cores; a title is no evidence and no part of what makes two
    recipes equal.
    """
    sizes_mm = _catalogue().sizes_mm
    changed = []
    for design in Design.objects.only("pk", "recipe", "title").order_by("pk").iterator():
        title = recipe_titles.build_title(design.recipe, sizes_mm) if design.recipe else design.title
        if title != design.title:
            design.title = title
            changed.append(design)
    Design.objects.bulk_update(changed, ["title"], batch_size=500)
    return len(changed)


_ALIAS = ("shape", "mix", "outer_mm", "inner_mm", "height_mm", "core__part")


def preview_design(recipe_given: Any) -> Recipe:
    """Return the normal form and the title of a recipe, without storing it.

    Raises BenchnightError with every fault of the recipe.
    """
    return recipes.normalise_recipe(recipe_given, _catalogue())


def read_build(text: str) -> Phrase:
    """Read a build as people say it, against the reference data. Raises BenchnightError `phrase.long`."""
    return read_build_phrase(text, _catalogue())


def read_said_parts(text: str) -> dict[str, Any]:
    """Read what a text says of a design, by the names of `DesignWords`; at most 120 characters of it."""
    phrase = read_build_phrase(text[:MOST_CHARACTERS], _catalogue())
    return phrase.said


def get_catalogue() -> Catalogue:
    """Get the reference data that recipes of this group are checked against."""
    return _catalogue()


@read_catalogue
def _catalogue() -> Catalogue:
    sizes = ("part", "shape", "mix", "outer_mm", "inner_mm", "height_mm")
    return Catalogue(
        cores=tuple(ListedCore(*row) for row in Core.objects.order_by("part").values_list(*sizes)),
        mixes=(*Mix.objects.order_by("name").values_list("name", flat=True), recipes.UNKNOWN_MIX),
        conductors=tuple(Conductor.objects.order_by("name").values_list("name", flat=True)),
        aliases=tuple(Alias(*row) for row in CoreAlias.objects.order_by("pk").values_list(*_ALIAS)),
    )
