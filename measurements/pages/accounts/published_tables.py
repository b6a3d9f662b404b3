"""What went into the published evidence from a member, as tables that the member alone sees."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from typing import Any

from measurements.pages.layout import figures
from measurements.selectors.evidence.evidence import PublishedRow

_DECIBELS = ("Worst, dB", "Centre, dB", "Best, dB")
# kind -> what its figures are, and the heads of its columns in the order of the figures
_HEADS: dict[str, tuple[str, tuple[str, ...]]] = {
    "common_mode": ("rejection", (*_DECIBELS, "R, ohm", "|Z|, ohm")),
    "insertion_loss": ("loss", (*_DECIBELS, "Heat, dB")),
    "load_match": ("SWR", ("Worst", "Centre", "Best")),
}


@dataclass(frozen=True)
class PublishedTable:
    """One test that has a vote. noun: of its figures. bands: name and figures as text, as `heads` say."""

    device_tag: str
    test: str
    kind: str
    noun: str
    heads: tuple[str, ...]
    bands: tuple[tuple[str, tuple[str, ...]], ...]


def list_published_tables(rows: Iterable[PublishedRow]) -> tuple[PublishedTable, ...]:
    """List a table for each of these tests of one member."""
    return tuple(_build_table(row) for row in rows)


def _build_table(row: PublishedRow) -> PublishedTable:
    noun, heads = _HEADS[row.kind]
    bands = tuple((band["band"], _format_figures(row.kind, band)) for band in row.bands)
    return PublishedTable(row.device_tag, row.test, row.kind, noun, heads, bands)


def _format_figures(kind: str, band: dict[str, Any]) -> tuple[str, ...]:
    """Format the figures of a band in their order; ohms with three digits."""
    shown = [(name, value) for name, value in band.items() if name not in ("band", "coverage")]
    digits = 1 if kind == "common_mode" else 2
    return tuple(
        figures.format_ohm(value) if name.endswith("_ohm") else figures.format_number(value, digits)
        for name, value in shown
    )
