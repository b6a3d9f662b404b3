"""The figures behind the charts of a design, by what they are about."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from measurements.pages.layout import tables
from measurements.pages.layout.tables import Column, Table
from measurements.selectors.evidence.design_curves import CurveSet, OwnCurveRow, Statistic
from measurements.selectors.evidence.figure_curves import AnyCurveSet, LossCurveSet


def build_table_of_kind(curves: AnyCurveSet, own: Sequence[OwnCurveRow] = ()) -> Table:
    """Return the curves of a design, without columns that this reader does not get. own: of rejection."""
    if isinstance(curves, CurveSet):
        return tables.build_curves_table(curves, own)
    if isinstance(curves, LossCurveSet):
        given: list[Column] = [
            *_list_columns("loss, dB", curves.loss_db),
            ("Median mismatch, dB", (curves.mismatch_db or {}).get("median"), 2),
            ("Median heat, dB", (curves.dissipative_db or {}).get("median"), 2),
            ("Heat at 100 W, median, W", (curves.heat_w_per_100_w or {}).get("median"), 1),
        ]
        return tables.build_table(curves.freq_hz, given)
    return tables.build_table(curves.freq_hz, _list_columns("SWR", curves.swr))


def _list_columns(name: str, statistic: Statistic) -> list[Column]:
    return [
        (f"Median {name}", statistic["median"], 2),
        (f"One in ten below, {name}", statistic["p10"], 2),
        (f"One in ten above, {name}", statistic["p90"], 2),
    ]


def build_comparison_table(drawn: Mapping[str, AnyCurveSet]) -> Table:
    """Return designs side by side, by letter; at least one, all of one kind."""
    rejections = {letter: curves for letter, curves in drawn.items() if isinstance(curves, CurveSet)}
    if rejections:
        return tables.build_comparison_table(rejections)
    given: list[Column] = []
    for letter, curves in drawn.items():
        if isinstance(curves, LossCurveSet):
            given += _list_columns(f"{letter}, loss, dB", curves.loss_db)
        elif not isinstance(curves, CurveSet):
            given += _list_columns(f"{letter}, SWR", curves.swr)
    return tables.build_table(next(iter(drawn.values())).freq_hz, given)
