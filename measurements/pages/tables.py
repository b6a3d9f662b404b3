"""The figures behind a chart as rows of text, thin enough to read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.charts.kind_panels import PANELS
from measurements.pages import figures
from measurements.queries.rows import CurveSet

MOST_ROWS = 33


@dataclass(frozen=True)
class Table:
    """Heads and rows of text; the first column is the frequency in MHz."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def of_curves(curves: CurveSet) -> Table:
    """A design's curves; columns that this reader does not get are left out."""
    given: list[tuple[str, Any, int]] = [
        ("Median rejection, dB", curves.rejection_db["median"], 1),
        ("10 % of devices below, dB", curves.rejection_db["p10"], 1),
        ("10 % of devices above, dB", curves.rejection_db["p90"], 1),
        ("Median R, ohm", curves.resistance_ohm["median"], 0),
        ("Median X, ohm", curves.reactance_ohm["median"], 0),
        ("Median |Z|, ohm", curves.impedance_ohm["median"], 0),
    ]
    return _table(curves.freq_hz, given)


def of_traces(kind: str, traces: Mapping[str, Any]) -> Table:
    """A test's curves, by the panels of its kind."""
    given = [
        (
            f"{panel.title if len(panel.lines) == 1 else line.label}, {panel.axis}",
            traces.get(line.column),
            panel.digits,
        )
        for panel in PANELS[kind]
        for line in panel.lines
    ]
    return _table(traces.get("freq_hz", ()), given)


def _table(freq_hz: Sequence[float], given: list[tuple[str, Any, int]]) -> Table:
    columns = [(head, list(column), digits) for head, column, digits in given if column is not None]
    step = max(1, -(-len(freq_hz) // MOST_ROWS))
    rows = tuple(
        (figures.mhz(freq_hz[at]), *(figures.plain(column[at], digits) for _, column, digits in columns))
        for at in range(0, len(freq_hz), step)
    )
    return Table(("MHz", *(head for head, _, _ in columns)), rows)
