"""Every column of a release's files: what it is called, its unit, what it means and how it is rounded.

The files are written from this list and the data dictionary is made of it, so neither can lack a column
that the other has.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Mapping
from dataclasses import asdict, dataclass
from typing import Any

from measurements.disclosure.thresholds import Thresholds

_DB = "0.01 dB"

_FOUR_DIGITS = "four significant digits"

_PUBLIC_DB = "0.5 dB, halves to the even step"

_COUNT_BAND = "given as a range: 5-9, 10-19, 20-49, 50-99 and so on (a text, not a date)"


@dataclass(frozen=True)
class Column:
    """One column. unit and rounding are None where there is none; a value may be empty where it says so."""

    name: str
    meaning: str
    type: str = "text"
    unit: str | None = None
    rounding: str | None = None


def _db_column(name: str, meaning: str, rounding: str = _DB) -> Column:
    return Column(name, meaning, "number", "dB", rounding)


EVIDENCE_COLUMNS: tuple[Column, ...] = (
    Column("id", "The row. Random, new in every release; carries neither time nor order."),
    Column("sample", "The device: equal in all its rows of this release, another one in the next."),
    Column("design", "The design's id, as in its address."),
    Column("month", "Month of the measurement, YYYY-MM, by the calendar of whoever measured."),
    Column("band", "Name of the amateur band in the release's region."),
    Column("coverage", "full: points in the whole band; interpolated: the band lies between two points."),
    _db_column("rejection_worst_db", "Smallest common-mode rejection in the band, 50 ohm on each side."),
    _db_column("rejection_centre_db", "Rejection at the centre of the band."),
    _db_column("rejection_best_db", "Largest rejection in the band."),
    Column(
        "resistance_smallest_ohm",
        "Smallest series resistance in the band; empty where the sweep has no phase.",
        "number",
        "ohm",
        _FOUR_DIGITS,
    ),
    Column(
        "impedance_smallest_ohm",
        "Smallest magnitude of the series impedance in the band; empty where the sweep has no phase.",
        "number",
        "ohm",
        _FOUR_DIGITS,
    ),
    Column(
        "self_resonance_hz",
        "Where the reactance passes through zero, over the whole sweep; empty where it does not.",
        "number",
        "Hz",
        _FOUR_DIGITS,
    ),
)

PUBLIC_COLUMNS: tuple[Column, ...] = (
    Column("design", "The design's id, as in its address."),
    Column("title", "The recipe in one line."),
    Column("band", "Name of the amateur band in the release's region."),
    Column(
        "benchmark_db", "The group's benchmark that the verdict is held against.", "number", "dB", "as set"
    ),
    Column(
        "chance",
        "Chance that a device newly built by somebody else meets the benchmark in the whole band.",
        "number",
        rounding="0.1, never 0 or 1",
    ),
    Column(
        "verdict", "typically_meets (a chance of 0.8 or more), typically_falls_short (0.2 or less) or mixed."
    ),
    Column("devices", "Devices that vote on the band.", rounding=_COUNT_BAND),
    Column("contributors", "Distinct owners of them.", rounding=_COUNT_BAND),
    _db_column(
        "rejection_median_db", "Median over the devices of the smallest rejection in the band.", _PUBLIC_DB
    ),
    _db_column(
        "rejection_tolerance_low_db",
        "Bound that 90 % of such devices exceed with 90 % confidence (one-sided, normal distribution).",
        _PUBLIC_DB,
    ),
)


def list_column_names(columns: tuple[Column, ...]) -> tuple[str, ...]:
    """Return the header of a file."""
    return tuple(column.name for column in columns)


def describe_columns(columns: tuple[Column, ...]) -> list[dict[str, Any]]:
    """Return the columns as the data dictionary lists them."""
    return [asdict(column) for column in columns]


# What lies beside the rows of a release: the data dictionary, the licence note and the manifest.
#
# The manifest of the public names the public's files only: the size of a members' file counts its rows, and
# how many devices there are is not for everybody.

NO_TERMS_NOTE = (
    "The group has not said under which terms its data may be passed on. Ask it before you publish them."
)


def build_data_dictionary(number: int, engine_version: str, region: int, limits: Thresholds) -> str:
    """Return `dictionary.json`: every column of every table, and what the figures rest on."""
    rows = describe_columns(EVIDENCE_COLUMNS)
    content = {
        "release": number,
        "engine_version": engine_version,
        "itu_region": region,
        "thresholds": {
            "min_contributors": limits.min_contributors,
            "public_min_contributors": limits.public_min_contributors,
            "min_joiners": limits.min_joiners,
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
                "columns": describe_columns(PUBLIC_COLUMNS),
            },
        },
    }
    return _format_indented(content)


def build_licence_note(group_name: str, terms: str) -> str:
    """Return `LICENCE.txt`: under which terms the group gives its data, and what they are not."""
    return (
        f"Measurements of {group_name}\n\n{terms or NO_TERMS_NOTE}\n\n"
        "The rows hold no identity. Do not try to find out whose device a row is of.\n"
        "Evidence can be withdrawn: prefer the newest release, and drop older copies when you can.\n"
        "Amateur measurements without warranty: they say what was measured at a bench, at low power, and\n"
        "not what a device withstands.\n"
    )


def build_manifest(number: int, made_at: str, files: Iterable[Mapping[str, Any]]) -> str:
    """Return `manifest.json` of one circle. files: name, circle, media_type, size (bytes), sha256 of each."""
    return _format_indented({"release": number, "made_at": made_at, "files": list(files)})


def _format_indented(content: Mapping[str, Any]) -> str:
    return json.dumps(content, ensure_ascii=False, allow_nan=False, indent=2) + "\n"
