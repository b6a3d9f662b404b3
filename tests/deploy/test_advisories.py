"""No locked package is below a version that an advisory names as the mended one (deploy/advisories.json)."""

from __future__ import annotations

import json
import re
from datetime import date
from pathlib import Path

import pytest
from packaging.version import Version

DEPLOY = Path(__file__).resolve().parents[2] / "deploy"
LISTED = json.loads((DEPLOY / "advisories.json").read_text(encoding="utf-8"))
PIN = re.compile(r"^([a-z0-9][a-z0-9._-]*)==([^ \\]+)", re.MULTILINE)


def pins(name: str) -> dict[str, Version]:
    return {
        found[1]: Version(found[2]) for found in PIN.finditer((DEPLOY / name).read_text(encoding="utf-8"))
    }


def below(locked: dict[str, Version]) -> list[str]:
    """Those of the list that a lock holds in a version that is not mended."""
    rows = LISTED["at_least"]
    return [
        row["package"]
        for row in rows
        if row["package"] in locked and locked[row["package"]] < Version(row["version"])
    ]


@pytest.mark.parametrize("name", ["lock.txt", "lock-check.txt"])
def test_every_locked_version_is_mended(name):
    locked = pins(name)
    assert {row["package"] for row in LISTED["at_least"]} <= set(locked), "a row for what is not locked"
    assert below(locked) == []


def test_an_older_version_is_found():
    assert below({"django": Version("5.2.18")}) == ["django"]


def test_every_row_says_where_it_is_from_and_when():
    for row in LISTED["at_least"]:
        assert row["source"] and date.fromisoformat(row["as_of"])
