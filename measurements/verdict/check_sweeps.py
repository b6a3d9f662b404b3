"""Sorts the sweeps of a check standard into charts: one for each bench, kind and method.

A bench is an analyser with a jig, by the names that the night gives them. Two benches never share a chart:
another jig may read 1 dB off without anything being wrong, and that difference is its offset.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from functools import cached_property
from typing import Any

import numpy as np

from measurements.verdict import check_history, control_chart
from measurements.verdict.check_history import History, JudgedSweep
from measurements.verdict.control_chart import FloatArray, Offset

# kind of test -> the figure of a band that is charted, at the band's centre: there it does not jump
CHARTED_FIGURES = {"common_mode": "rejection_db", "load_match": "swr", "insertion_loss": "loss_db"}
BELIEVED_COVERAGE = ("full", "interpolated")


@dataclass(frozen=True)
class Bench:
    """An analyser with a jig; account: whose own bench, outside nights. All empty: nobody named it."""

    analyser: str = ""
    jig: str = ""
    account: str = ""

    @property
    def code(self) -> tuple[str, str, str]:
        """Return the same for names that differ in case or spaces alone."""
        return (_plain(self.analyser), _plain(self.jig), self.account)


@dataclass(frozen=True)
class CheckSweep:
    """One test of a check standard. session: its night or day. result: as in the contract."""

    test: str
    kind: str
    method: str
    bench: Bench
    session: str
    night: str | None
    measured_on: date
    result: Mapping[str, Any]

    @cached_property
    def figures(self) -> dict[str, float]:
        """Return the charted figure of each band that the sweep can be believed on."""
        flags = [flag for flag in self.result["flags"] if flag["severity"] in ("refuse", "exclude")]
        if self.kind not in CHARTED_FIGURES or any(flag["band"] is None for flag in flags):
            return {}
        left_out = {flag["band"] for flag in flags}
        found = {}
        for band in self.result["bands"]:
            figure = (band.get(CHARTED_FIGURES[self.kind]) or {}).get("centre")
            if figure is None or band["coverage"] not in BELIEVED_COVERAGE or band["band"] in left_out:
                continue
            found[band["band"]] = float(figure)
        return found


@dataclass(frozen=True)
class BenchChart:
    """All sweeps of one kind and method at one bench, judged in their order. bands: columns of the arrays."""

    bench: Bench
    kind: str
    method: str
    bands: tuple[str, ...]
    sweeps: tuple[CheckSweep, ...]
    figures: FloatArray
    history: History

    @property
    def figure(self) -> str:
        return CHARTED_FIGURES[self.kind]

    def list_session_sweeps(self, session: str) -> list[tuple[CheckSweep, JudgedSweep]]:
        """List the sweeps of one session in their order."""
        both = zip(self.sweeps, self.history.sweeps, strict=True)
        return [(sweep, judged) for sweep, judged in both if sweep.session == session]


def build_check_sweep(row: Sequence[Any]) -> CheckSweep:
    """Build a sweep from a row of `models.check_standards.SWEEP_COLUMNS`."""
    test, kind, measured_on, _, account, name, night, analyser, jig, result = row
    if night is None:
        bench = Bench(account=name or "")
    else:
        bench = Bench(" ".join(analyser.split()), " ".join(jig.split()))
    session = name_session(night, account, measured_on)
    return CheckSweep(test, kind, result["method"], bench, session, night, measured_on, result)


def name_session(night: str | None, account: int | None, measured_on: date) -> str:
    """Name what shares one calibration: a night, or what one account measured on one day outside nights."""
    return f"night {night}" if night is not None else f"account {account} on {measured_on.isoformat()}"


def judge_standard(sweeps: Iterable[CheckSweep]) -> tuple[BenchChart, ...]:
    """Judge all sweeps of a standard, given in their order. Sweeps that cannot be believed are left out."""
    grouped: dict[tuple[Any, ...], list[CheckSweep]] = defaultdict(list)
    for sweep in sweeps:
        if sweep.figures:
            grouped[sweep.kind, sweep.method, sweep.bench.code].append(sweep)
    return tuple(_judge_group(group) for group in grouped.values())


def _judge_group(sweeps: list[CheckSweep]) -> BenchChart:
    bands = _list_bands(sweeps)
    figures = np.array([[sweep.figures.get(band, np.nan) for band in bands] for sweep in sweeps])
    usual = control_chart.USUAL_SPREADS[CHARTED_FIGURES[sweeps[0].kind]]
    history = check_history.judge_history(figures, [sweep.session for sweep in sweeps], usual)
    newest = sweeps[-1]
    return BenchChart(newest.bench, newest.kind, newest.method, bands, tuple(sweeps), figures, history)


def _list_bands(sweeps: Sequence[CheckSweep]) -> tuple[str, ...]:
    """List the bands in the order of their frequencies."""
    starts = {
        band["band"]: band["start_hz"]
        for sweep in sweeps
        for band in sweep.result["bands"]
        if band["band"] in sweep.figures
    }
    return tuple(sorted(starts, key=lambda band: starts[band]))


def compute_bench_offset(there: BenchChart, here: BenchChart) -> dict[str, tuple[float, float]]:
    """Compute what `there` reads above `here`, of one kind and method: band -> difference and U (95 %)."""
    bands = [band for band in here.bands if band in there.bands]
    if not bands:
        return {}
    rows = [chart.history.sessions[:, [chart.bands.index(band) for band in bands]] for chart in (there, here)]
    usual = control_chart.USUAL_SPREADS[here.figure]
    found: Offset = control_chart.compute_offset(rows[0], rows[1], usual)
    pairs = zip(bands, found.difference, found.u, strict=True)
    return {band: (float(value), float(u)) for band, value, u in pairs if np.isfinite(value)}


def _plain(name: str) -> str:
    return " ".join(name.split()).casefold()
