"""JSON, CSV and NDJSON of the same rows from the same addresses, every one that has tables."""

from __future__ import annotations

import csv
import io
import json
from typing import Any

import pytest

from api import urls
from api.http.renderers import Csv, Ndjson
from tests.api.scene import ROLES, Scene
from tests.api.test_permissions import TABLE, request_to

VIEWS = {
    pattern.name: pattern.callback.cls
    for pattern in urls.urlpatterns
    if {Csv, Ndjson} <= set(getattr(pattern.callback.cls, "renderer_classes", ()))
}
# the scene has no inspection, no picture, nothing watched or flagged, and no pool
MAY_BE_EMPTY = {"inspections", "pictures", "watched_designs", "reviews", "pooled_evidence"}


def test_the_lists_are_among_them():
    assert {"designs", "design_evidence", "evidence", "devices", "tests", "releases", "bands"} <= set(VIEWS)


@pytest.mark.parametrize("name", VIEWS)
def test_they_hold_the_same_rows(scene: Scene, name: str):
    as_json, as_csv, as_ndjson = (asked(scene, name, form) for form in ("json", "csv", "ndjson"))
    rows = json.loads(as_json)["results"]
    assert rows or name in MAY_BE_EMPTY
    assert [json.loads(line) for line in as_ndjson.splitlines()] == rows
    table = list(csv.DictReader(io.StringIO(as_csv, newline="")))
    assert len(table) == len(rows)
    for cells, row in zip(table, rows, strict=True):
        for column, cell in cells.items():
            assert says(cell, found(row, column)), (column, cell)


def asked(scene: Scene, name: str, form: str) -> str:
    """The whole list, as the first role that may read it: members, who see rows and not aggregates."""
    role = next(role for role in ("owner", "operator", *ROLES) if TABLE[name]["GET"][role] == 200)
    path, _ = request_to(scene, name, "GET")
    # where rows do not come in pages, `limit` is one of loss or SWR
    paged = {"limit", "cursor"} <= set(VIEWS[name].words().fields)
    words = [f"format={form}", *(["limit=200"] if paged else [])]
    reply = scene.ask(role, "GET", f"{path}{'&' if '?' in path else '?'}{'&'.join(words)}")
    assert reply.status_code == 200 and reply["Content-Type"].startswith(
        {"json": "application/json", "csv": "text/csv", "ndjson": "application/x-ndjson"}[form]
    )
    return (reply.getvalue() if reply.streaming else reply.content).decode()


def found(row: dict[str, Any], column: str) -> Any:
    """The value that a column `outer.inner` stands for; None where there is nothing to look into."""
    value: Any = row
    for part in [column] if column in row else column.split("."):
        value = value.get(part) if isinstance(value, dict) else None
    return value


def says(cell: str, value: Any) -> bool:
    """Whether a cell of a CSV says this value, as somebody reads it who knows nothing of its making."""
    if value is None:
        return cell == ""
    if isinstance(value, bool):
        return cell == str(value).lower()
    if isinstance(value, int | float):
        return float(cell) == value
    if isinstance(value, str):
        return cell.removeprefix("'") == value.removeprefix("'")
    return json.loads(cell) == value
