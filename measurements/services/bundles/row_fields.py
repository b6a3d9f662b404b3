"""Fields of rows as the database takes them, and what most tables do with them."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from datetime import date, datetime
from typing import Any

from django.db import models

from measurements.models import Contributor
from measurements.services.bundles.import_run import ImportRun
from measurements.services.bundles.zip_entries import build_refusal

Row = Mapping[str, Any]
DAYS = frozenset(
    {
        "held_on",
        "built_on",
        "since",
        "retired_on",
        "counts_from",
        "measured_on",
        "inspected_on",
        "lent_on",
        "returned_on",
    }
)
TIMES = frozenset(
    [
        "opened_at",
        "closed_at",
        "registered_at",
        "brought_at",
        "ended_at",
        "marked_at",
        "recorded_at",
        "excluded_at",
        "recipe_confirmed_at",
        "made_at",
        "added_at",
        "begun_at",
        "offered_at",
        "answered_at",
    ]
)


def parse_values(row: Row, names: tuple[str, ...]) -> dict[str, Any]:
    """Return fields as the database takes them. Raises `bundle.row` for what is no day."""
    found: dict[str, Any] = {}
    for name in names:
        value = row[name]
        try:
            if value is not None and name in DAYS:
                value = date.fromisoformat(value)
            elif value is not None and name in TIMES:
                value = datetime.fromisoformat(value)
        except ValueError as error:
            raise build_refusal("bundle.row", f"{name} of {row['key']} is no day or time.") from error
        found[name] = value
    return found


def find_by_key(model: type[models.Model], *related: str) -> Callable[[Row], Any]:
    return lambda row: model._default_manager.select_related(*related).filter(key=row["key"]).first()


def change_plainly(model: type[models.Model]) -> Callable[[ImportRun, Any, Row], None]:
    def change(_run: ImportRun, stored: Any, changes: Row) -> None:
        values = parse_values({"key": stored.pk, **changes}, tuple(changes))
        model._default_manager.filter(pk=stored.pk).update(**values)

    return change


def insert_row(model: type[models.Model], stamps: dict[str, Any] | None = None, **values: Any) -> Any:
    """Store a row; stamps: times that the table would fill in itself."""
    stored = model(**values)
    stored.save(force_insert=True)
    if stamps:
        model._default_manager.filter(pk=stored.pk).update(**stamps)
    return stored


def get_person(run: ImportRun, row: Row) -> Contributor:
    """Return the contributor of a row. `row_imports` has checked that there is one."""
    found = run.people[row["person_ref"]]
    if found is None:
        raise build_refusal("bundle.row", "A row of this bundle names nobody.")
    return found
