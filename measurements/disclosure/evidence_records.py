"""One row of the evidence as a table: a design on a band, its recipe, and what one circle sees of it.

Replies, CSV, NDJSON and the files of a release are all made of these rows, so they have the same columns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.disclosure.evidence_view import METRICS

RECIPE_COLUMNS = (
    "purpose",
    "principle",
    "ratio",
    "mix",
    "core_part",
    "cores",
    "stacked",
    "turns",
    "style",
    "conductor",
)

METRIC_COLUMNS = tuple(METRICS.values())

_SIZES = ("outer_mm", "inner_mm", "height_mm")


@dataclass(frozen=True)
class PublishedDesign:
    """A design as it is published: its key, its title and its recipe in normal form."""

    key: str
    title: str
    recipe: Mapping[str, Any]


@dataclass(frozen=True)
class PublishedIn:
    """The release that a row is of, and its quarter: no figure has a date of its own."""

    release: int
    quarter: str


def format_quarter(day: date) -> str:
    """Format the quarter of a year that a day lies in: `2026-Q4`."""
    return f"{day.year}-Q{(day.month + 2) // 3}"


def build_evidence_record(
    design: PublishedDesign, published_in: PublishedIn, view: Mapping[str, Any]
) -> dict[str, Any]:
    """Build one row. view: of `evidence_view.build_evidence_view`, for the circle that the row is for.

    It has a column for the metric of each kind; those of the other kinds are null.
    """
    return {
        "release": published_in.release,
        "quarter": published_in.quarter,
        "design": design.key,
        "title": design.title,
        **_list_recipe_columns(design.recipe),
        **{name: value for name, value in view.items() if name not in METRIC_COLUMNS},
        **{name: view.get(name) for name in METRIC_COLUMNS},
    }


def _list_recipe_columns(recipe: Mapping[str, Any]) -> dict[str, Any]:
    """List the recipe as columns. Cores that differ are joined by a plus sign in the order of the recipe."""
    cores, winding = recipe["cores"], recipe["winding"]
    return {
        "purpose": recipe["purpose"],
        "principle": recipe["principle"],
        "ratio": recipe["ratio"],
        "mix": _join_different([core["mix"] for core in cores]),
        "core_part": _join_different([_name_core(core) for core in cores]),
        "cores": len(cores),
        "stacked": max(int(core["stacked"]) for core in cores),
        "turns": winding["turns"],
        "style": winding["style"],
        "conductor": winding["conductor"],
    }


def _join_different(words: Sequence[str]) -> str:
    return " + ".join(dict.fromkeys(words))


def _name_core(core: Mapping[str, Any]) -> str:
    """Name a core by its part number, else by its shape and size."""
    if "part" in core:
        return str(core["part"])
    sizes = " x ".join(f"{core[name]:g}" for name in _SIZES if core.get(name) is not None)
    return f"{core['shape']} {sizes} mm" if sizes else str(core["shape"])


def find_value(row: Mapping[str, Any], name: str) -> Any:
    """Find the value of a column; a name `outer.inner` reaches into a nested object, None where that is."""
    if name in row:
        return row[name]
    value: Any = row
    for part in name.split("."):
        if value is None:
            return None
        value = value.get(part)
    return value
