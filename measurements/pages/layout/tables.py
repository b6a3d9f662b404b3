"""The figures behind a chart as rows of text, thin enough to read."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.charts.test_chart import KIND_PANELS, KindPanel
from measurements.pages.layout import figures
from measurements.selectors.evidence.design_curves import CurveSet, OwnCurveRow
from measurements.selectors.predictions.rows import PredictionRow
from measurements.selectors.tests.comparison import CurveComparison

MAX_ROWS = 33
Column = tuple[str, Any, int]  # head, figures or None, decimals


@dataclass(frozen=True)
class Table:
    """Heads and rows of text; the first column is the frequency in MHz."""

    heads: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def build_curves_table(curves: CurveSet, own: Sequence[OwnCurveRow] = ()) -> Table:
    """Return a design's curves and the reader's own devices; columns that this reader does not get are left
    out.
    """
    given: list[Column] = [
        ("Median rejection, dB", curves.rejection_db["median"], 1),
        ("One in ten below, dB", curves.rejection_db["p10"], 1),
        ("One in ten above, dB", curves.rejection_db["p90"], 1),
        *((f"Yours: {each.tag}, dB", each.rejection_db, 1) for each in own),
        ("Median R, ohm", curves.resistance_ohm["median"], 0),
        ("Median X, ohm", curves.reactance_ohm["median"], 0),
        ("Median |Z|, ohm", curves.impedance_ohm["median"], 0),
        *((f"Yours: {each.tag}, |Z|, ohm", each.impedance_ohm, 0) for each in own),
    ]
    return build_table(curves.freq_hz, given)


def build_comparison_table(drawn: Mapping[str, CurveSet]) -> Table:
    """Return designs side by side, by letter; at least one."""
    given: list[Column] = []
    for letter, curves in drawn.items():
        given += [
            (f"{letter} median, dB", curves.rejection_db["median"], 1),
            (f"{letter} one in ten below, dB", curves.rejection_db["p10"], 1),
            (f"{letter} one in ten above, dB", curves.rejection_db["p90"], 1),
        ]
    return build_table(next(iter(drawn.values())).freq_hz, given)


def build_device_comparison_table(both: CurveComparison) -> Table:
    """Return an own curve beside its design's."""
    rejection, impedance = both.design.rejection_db, both.design.impedance_ohm
    given: list[Column] = [
        ("This device, dB", both.rejection_db, 1),
        ("Median, dB", rejection["median"], 1),
        ("One in ten below, dB", rejection["p10"], 1),
        ("One in ten above, dB", rejection["p90"], 1),
        ("This device, |Z|, ohm", both.impedance_ohm, 0),
        ("Median |Z|, ohm", impedance["median"], 0),
    ]
    return build_table(both.design.freq_hz, given)


def build_prediction_table(row: PredictionRow, released: CurveSet | None) -> Table:
    """Return a predicted winding, and beside it what was released of the same recipe."""
    rejection = row.rejection_db
    seen = (
        dict(zip(released.freq_hz, released.rejection_db["median"] or (), strict=False)) if released else {}
    )
    given: list[Column] = [
        ("Predicted, dB", rejection["median"], 1),
        ("One in ten below, dB", rejection["p10"], 1),
        ("One in ten above, dB", rejection["p90"], 1),
        ("Released median, dB", [seen.get(freq) for freq in row.freq_hz] if seen else None, 1),
        ("R, ohm", row.resistance_ohm["median"], 0),
        ("X, ohm", row.reactance_ohm["median"], 0),
        ("|Z|, ohm", row.impedance_ohm["median"], 0),
    ]
    return build_table(row.freq_hz, given)


def build_traces_table(kind: str, traces: Mapping[str, Any]) -> Table:
    """Return a test's curves, by the panels of its kind."""
    given = [
        (
            f"{panel.title if len(panel.lines) == 1 else line.label}, {panel.axis}",
            traces.get(line.column),
            panel.digits,
        )
        for panel in KIND_PANELS[kind]
        for line in panel.lines
    ]
    ends = {
        head: panel.most for (head, *_), panel in zip(given, _list_panels(kind), strict=True) if panel.most
    }
    return build_table(traces.get("freq_hz", ()), given, ends)


def _list_panels(kind: str) -> list[KindPanel]:
    """Return the panel of every line that a kind draws, in order."""
    return [panel for panel in KIND_PANELS[kind] for _ in panel.lines]


def _write_figure(value: float | None, digits: int, most: float | None) -> str:
    if most is not None and value is not None and value > most:
        return f"over {most:g}"
    return figures.format_number(value, digits)


def build_table(
    freq_hz: Sequence[float], given: list[Column], ends: Mapping[str, float] | None = None
) -> Table:
    """Return the upper ends by column head: a larger figure reads "over" its end."""
    most = [(ends or {}).get(head) for head, column, _ in given if column is not None]
    columns = [(head, list(column), digits) for head, column, digits in given if column is not None]
    step = max(1, -(-len(freq_hz) // MAX_ROWS))
    rows = tuple(
        (
            figures.format_mhz(freq_hz[at]),
            *(
                _write_figure(column[at], digits, end)
                for (_, column, digits), end in zip(columns, most, strict=True)
            ),
        )
        for at in range(0, len(freq_hz), step)
    )
    return Table(("MHz", *(head for head, _, _ in columns)), rows)
