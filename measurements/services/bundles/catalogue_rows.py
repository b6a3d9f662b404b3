"""Reference rows and recipes of a bundle: unknown ones are added, none of this group's is ever overwritten.

Recipes meet by the SHA-256 of their normal form. The normal form is made anew here, because this group may
list a core, or know a typed size as one, that the other does not.
"""

from __future__ import annotations

from datetime import date
from typing import Any

from django.db import models

from measurements.errors import BenchnightError
from measurements.models import Conductor, Core, Design, Mix
from measurements.services.bundles import row_schema, row_values
from measurements.services.bundles.import_run import ImportRun, show_value
from measurements.services.bundles.zip_entries import build_refusal
from measurements.services.designs import designs, recipes

_TABLES: dict[str, tuple[type[models.Model], str]] = {
    "mixes": (Mix, "name"),
    "cores": (Core, "part"),
    "conductors": (Conductor, "name"),
}


def add_catalogue_rows(run: ImportRun) -> None:
    """Add the mixes, cores and conductors that this group does not list. Call inside a transaction."""
    for table, (model, identity) in _TABLES.items():
        for row in run.rows[table]:
            found = model._default_manager.filter(**{identity: row["key"]}).first()
            if found is None:
                _add(run, table, model, identity, row)
            else:
                _compare(run, table, row, row_values.BUILDERS[table](found))


def _add(run: ImportRun, table: str, model: type[models.Model], identity: str, row: dict[str, Any]) -> None:
    if table == "conductors":
        squeezed = recipes.squeeze_conductor_name(row["key"])
        names = Conductor.objects.values_list("name", flat=True)
        if any(recipes.squeeze_conductor_name(name) == squeezed for name in names):
            run.note("unchanged", table, row["key"], "")  # recipes do not tell the two spellings apart
            return
    values = {name: value for name, value in row.items() if name not in ("key", "synced")}
    values["as_of"] = _parse_day(row["as_of"])
    values["note"] = f"{row['note']} Came in a bundle of {run.bag.signer}.".strip()
    model._default_manager.create(**{identity: row["key"]}, **values)
    run.created.add((table, row["key"]))
    run.note(
        "new",
        table,
        row["key"],
        f"listed by {show_value(run.bag.signer)}; source {show_value(row['source'])}",
    )


def _compare(run: ImportRun, table: str, row: dict[str, Any], here: dict[str, Any]) -> None:
    skipped = ("key", "synced", "source", "basis", "as_of", "note")
    differing = [name for name in here if name not in skipped and here[name] != row[name]]
    text = "; ".join(
        f"{name}: here {show_value(here[name])}, in the bundle {show_value(row[name])}" for name in differing
    )
    run.note("unchanged", table, row["key"], f"this group's own row stays ({text})" if text else "")


def _parse_day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise build_refusal("bundle.row", f"{text[:20]!r} in this bundle is no day.") from error


def meet_designs(run: ImportRun) -> None:
    """Find or make the design of every recipe. Call inside a transaction, after the catalogue."""
    for row in run.rows["designs"]:
        normal = _normalise(row)
        found = Design.objects.select_related("merged_into").filter(recipe_sha256=normal.sha256).first()
        if found is not None:
            run.designs[row["key"]] = (found.merged_into or found).key
            run.note("unchanged", "designs", normal.title, "")
            continue
        wanted = None if Design.objects.filter(key=row["key"]).exists() else row["key"]
        made = designs.create_design(by=run.by, normal=normal, key=wanted)
        run.designs[row["key"]] = made.key
        run.note("new", "designs", normal.title, "")


def _normalise(row: dict[str, Any]) -> recipes.Recipe:
    if row["recipe_form"] != row_schema.RECIPE_FORM:
        raise build_refusal(
            "bundle.version", f"A recipe of this bundle is in form {row['recipe_form']}; update this server."
        )
    if recipes.hash_recipe(row["recipe"]) != row["recipe_sha256"]:
        raise build_refusal("bundle.recipe", "A recipe of this bundle does not have the hash that it names.")
    try:
        return designs.preview_design(row["recipe"])
    except BenchnightError as error:
        raise build_refusal(
            "bundle.recipe", f"A recipe of this bundle cannot be read: {error.errors[0].detail}"
        ) from error
