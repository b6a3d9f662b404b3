"""Loads reference data from fixtures/reference: rows are added or brought up to date, never removed."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

from django.db import models, transaction

from measurements.models import Allocation, Benchmark, Conductor, Core, Mix
from measurements.services.designs import designs
from measurements.services.operations import audit
from measurements.services.reference.band_plan import BY_GROUP

DIRECTORY = Path(__file__).resolve().parents[3] / "fixtures" / "reference"

# file: the table, and what makes a row the same row when it is loaded again
_TABLES: dict[str, tuple[type[models.Model], tuple[str, ...]]] = {
    "bands.json": (Allocation, ("region", "band", "valid_from")),
    "benchmarks.json": (Benchmark, ("kind", "metric", "as_of")),
    "mixes.json": (Mix, ("name",)),
    "cores.json": (Core, ("part",)),
    "conductors.json": (Conductor, ("name",)),
}


def load_reference_data(directory: Path = DIRECTORY) -> dict[str, int]:
    """Add missing rows and update those of the files; rows a steward wrote stay. Answers counts by file.

    Raises OSError or KeyError when the files of the project itself are damaged.
    """
    counts = {}
    with transaction.atomic():
        for name, (table, identity) in _TABLES.items():
            rows = json.loads((directory / name).read_text(encoding="utf-8"))["rows"]
            for row in rows:
                _save_row(table, identity, row)
            counts[name.removesuffix(".json")] = len(rows)
        counts["titles"] = designs.retitle_designs()  # cores give designs their names
        audit.record_action(by=None, action="reference.load", subject="reference", **counts)
    return counts


def _save_row(table: type[models.Model], identity: tuple[str, ...], row: dict[str, Any]) -> None:
    columns = {field.name for field in table._meta.concrete_fields} - {"id"}
    values = {key: value for key, value in row.items() if key in columns}
    same = {key: values.pop(key) for key in identity}
    rows = table._default_manager
    if rows.filter(**same, basis=BY_GROUP).exists():
        return  # a steward wrote over it
    if table is Allocation and values["valid_to"] is None:
        newer = {"region": same["region"], "band": same["band"], "valid_from__gt": same["valid_from"]}
        if rows.filter(**newer).exists():
            del values["valid_to"]  # it ended where the group's own newer row begins
    rows.update_or_create(**same, defaults=values)
