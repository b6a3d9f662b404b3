"""Reads the reference files for the tests of this folder."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

FOLDER = Path(__file__).parents[2] / "fixtures" / "reference"
FILES = ("bands", "benchmarks", "conductors", "cores", "mixes")


def content(file: str) -> dict[str, Any]:
    """The whole of one reference file, by its name without ending."""
    return json.loads((FOLDER / f"{file}.json").read_text(encoding="utf-8"))


def rows(file: str) -> list[dict[str, Any]]:
    """The rows of one reference file."""
    return content(file)["rows"]


def one(file: str, **wanted: object) -> dict[str, Any]:
    """The only row that has all these values; a failed assertion if there is none or more than one."""
    found = [row for row in rows(file) if all(row[key] == value for key, value in wanted.items())]
    assert len(found) == 1, (file, wanted, len(found))
    return found[0]
