"""Every column of a release's files: what it is called, its unit, what it means and how it is rounded.

The files are written from this list and the data dictionary is made of it, so neither can lack a column
that the other has.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from typing import Any

_DB = "0.01 dB"
_FOUR_DIGITS = "four significant digits"
_PUBLIC_DB = "0.5 dB, halves to the even step"
_BAND_OF_COUNTS = "given as a range: 5-9, 10-19, 20-49, 50-99 and so on (a text, not a date)"


@dataclass(frozen=True)
class Column:
    """One column. unit and rounding are None where there is none; a value may be empty where it says so."""

    name: str
    meaning: str
    type: str = "text"
    unit: str | None = None
    rounding: str | None = None


def _db(name: str, meaning: str, rounding: str = _DB) -> Column:
    return Column(name, meaning, "number", "dB", rounding)


EVIDENCE: tuple[Column, ...] = (
    Column("id", "The row. Random, new in every release; carries neither time nor order."),
    Column("sample", "The device: equal in all its rows of this release, another one in the next."),
    Column("design", "The design's id, as in its address."),
    Column("month", "Month of the measurement, YYYY-MM, by the calendar of whoever measured."),
    Column("band", "Name of the amateur band in the release's region."),
    Column("coverage", "full: points in the whole band; interpolated: the band lies between two points."),
    _db("rejection_worst_db", "Smallest common-mode rejection in the band, 50 ohm on each side."),
    _db("rejection_centre_db", "Rejection at the centre of the band."),
    _db("rejection_best_db", "Largest rejection in the band."),
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

PUBLIC: tuple[Column, ...] = (
    Column("design", "The design's id, as in its address."),
    Column("title", "The recipe in one line."),
    Column("band", "Name of the amateur band in the release's region."),
    Column(
        "benchmark_db", "The group's benchmark that the verdict is held against.", "number", "dB", "as set"
    ),
    Column("verdict", "typically_meets, mixed or typically_falls_short."),
    Column("devices", "Devices that vote on the band.", rounding=_BAND_OF_COUNTS),
    Column("contributors", "Distinct owners of them.", rounding=_BAND_OF_COUNTS),
    _db("rejection_median_db", "Median over the devices of the smallest rejection in the band.", _PUBLIC_DB),
    _db(
        "rejection_tolerance_low_db",
        "Bound that 90 % of such devices exceed with 90 % confidence (one-sided, normal distribution).",
        _PUBLIC_DB,
    ),
)


def names(columns: tuple[Column, ...]) -> tuple[str, ...]:
    """The header of a file."""
    return tuple(column.name for column in columns)


def described(columns: tuple[Column, ...]) -> list[dict[str, Any]]:
    """The columns as the data dictionary lists them."""
    return [asdict(column) for column in columns]
