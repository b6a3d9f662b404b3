"""What lies beside the rows of a release: the data dictionary, the licence note and the manifest.

The manifest of the public names the public's files only: the size of a members' file counts its rows, and
how many devices there are is not for everybody.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from typing import Any

from measurements.disclosure import release_columns
from measurements.disclosure.thresholds import Thresholds

UNLICENSED = (
    "The group has not said under which terms its data may be passed on. Ask it before you publish them."
)


def dictionary(number: int, engine_version: str, region: int, limits: Thresholds) -> str:
    """`dictionary.json`: every column of every table, and what the figures rest on."""
    rows = release_columns.described(release_columns.EVIDENCE)
    content = {
        "release": number,
        "engine_version": engine_version,
        "itu_region": region,
        "thresholds": {
            "min_contributors": limits.min_contributors,
            "public_min_contributors": limits.public_min_contributors,
            "min_changes": limits.min_changes,
            "votes_per_contributor": limits.votes_per_contributor,
        },
        "csv": "UTF-8, comma, lines end in CR LF, decimal point; an empty cell is a value that does not "
        "exist. A text that a spreadsheet would take for a formula has an apostrophe before it.",
        "ndjson": "UTF-8, one object per line; null is a value that does not exist.",
        "files": {
            "evidence.csv": {"a row is": "one device on one band", "columns": rows},
            "evidence.ndjson": {"a row is": "one device on one band", "columns": rows},
            "design-ID.csv": {
                "a row is": "as in evidence.csv for members, as in designs-public.csv for the public, of the "
                "design with this id; manifest.json lists these files",
                "columns": [],
            },
            "designs-public.csv": {
                "a row is": "one design on one band, where enough contributors stand behind it",
                "columns": release_columns.described(release_columns.PUBLIC),
            },
        },
    }
    return _indented(content)


def licence(group_name: str, terms: str) -> str:
    """`LICENCE.txt`: under which terms the group gives its data, and what they are not."""
    return (
        f"Measurements of {group_name}\n\n{terms or UNLICENSED}\n\n"
        "The rows hold no identity. Do not try to find out whose device a row is of.\n"
        "Evidence can be withdrawn: prefer the newest release, and drop older copies when you can.\n"
        "Amateur measurements without warranty: they say what was measured at a bench, at low power, and\n"
        "not what a device withstands.\n"
    )


def manifest(number: int, made_at: str, files: Iterable[Mapping[str, Any]]) -> str:
    """`manifest.json` of one circle. files: name, circle, media_type, size (bytes), sha256 of each."""
    return _indented({"release": number, "made_at": made_at, "files": list(files)})


def _indented(content: Mapping[str, Any]) -> str:
    return json.dumps(content, ensure_ascii=False, allow_nan=False, indent=2) + "\n"
