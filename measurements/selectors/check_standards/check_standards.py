"""Reads the charts of check standards for operators and stewards: every one of a group sees all of them.

A check standard is the group's own yardstick. Who marks a device as one shows its figures to the operators;
of other people's nights they read the day and the names of analyser and jig, and nothing else.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

import numpy as np
from django.db.models import F, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CheckStandard, Device
from measurements.selectors.check_standards import waiting
from measurements.selectors.check_standards.waiting import HoldRow
from measurements.selectors.devices import devices
from measurements.selectors.nights import nights
from measurements.verdict import check_sweeps, control_chart
from measurements.verdict.check_history import JudgedSweep
from measurements.verdict.check_sweeps import Bench, BenchChart

STATES = ("in_control", "out_of_control", "not_enough")


@dataclass(frozen=True)
class PointRow:
    """A sweep on one band. value: None where the band was not measured. low, high: None before limits."""

    test: str
    on: date
    value: float | None
    low: float | None
    high: float | None
    outside: bool


@dataclass(frozen=True)
class BandRow:
    """A band of a chart. mean, three_s, low, high: for the next sweep; None before there are enough sessions.

    sessions: how many they rest on.
    """

    band: str
    sessions: int
    mean: float | None
    three_s: float | None
    low: float | None
    high: float | None
    points: tuple[PointRow, ...]


@dataclass(frozen=True)
class ChartRow:
    """The chart of one kind and method at one bench. figure: `rejection_db`, `swr` or `loss_db`.

    state: of the last sweep. sessions: how many there are; least_sessions: how many it takes.
    """

    number: int
    kind: str
    method: str
    figure: str
    analyser: str
    jig: str
    account: str
    state: str
    sessions: int
    least_sessions: int
    bands: tuple[BandRow, ...]
    sweeps: int
    last_on: date
    bench: tuple[str, str, str]
    sessions_named: tuple[str, ...]

    @property
    def bench_name(self) -> str:
        """Return the bench in words."""
        if self.account:
            return f"own bench of {self.account}"
        return f"{self.analyser or 'an analyser without a name'}, {self.jig or 'a jig without a name'}"


@dataclass(frozen=True)
class OffsetRow:
    """What a bench reads above the reference bench, with U (95 %), in the figure's unit."""

    kind: str
    method: str
    figure: str
    bench: str
    reference: str
    sessions: int
    reference_sessions: int
    bands: tuple[tuple[str, float, float], ...]


@dataclass(frozen=True)
class StandardRow:
    """A check standard. holds: the newest first. charts: the bench with most sweeps first."""

    key: str
    device: str
    tag: str
    design_title: str
    marked_at: datetime
    counts_from: date | None
    ended_at: datetime | None
    state: str
    charts: tuple[ChartRow, ...]
    offsets: tuple[OffsetRow, ...]
    holds: tuple[HoldRow, ...]
    may_end: bool


@dataclass(frozen=True)
class NightCheckRow:
    """A check standard on one night. charts: those of the night's bench. swept: whether it was that night."""

    standard: StandardRow
    charts: tuple[ChartRow, ...]
    swept: bool


def list_check_standards(viewer: Viewer) -> tuple[StandardRow, ...]:
    """List the check standards of the group, the current ones first. Raises where `viewer` is no operator."""
    policy.check_operator(viewer)
    return tuple(_build_row(viewer, standard) for standard in _query_standards())


def get_check_standard(viewer: Viewer, key: str) -> StandardRow:
    """Return a check standard with charts, offsets and holds. Raises BenchnightError `check.not_found`."""
    policy.check_operator(viewer)
    for standard in _query_standards().filter(key=key):
        return _build_row(viewer, standard)
    raise BenchnightError("check.not_found", "There is no such check standard.", kind="not_found")


def list_night_checks(viewer: Viewer, night: str) -> tuple[tuple[NightCheckRow, ...], tuple[HoldRow, ...]]:
    """List the current check standards with the charts of a night's bench, and the night's holds.

    Raises BenchnightError `night.not_found`.
    """
    found = nights.get_night_record(viewer, night)
    code = Bench(found.instrument, found.jig).code
    session = check_sweeps.name_session(found.key, None, found.held_on)
    rows = []
    for standard in _query_standards().filter(ended_at=None):
        row = _build_row(viewer, standard)
        charts = tuple(chart for chart in row.charts if chart.bench == code)
        swept = any(session in chart.sessions_named for chart in charts)
        rows.append(NightCheckRow(row, charts, swept))
    return tuple(rows), waiting.list_holds_of_night(found.pk)


def get_standard_of_device(viewer: Viewer, device: str) -> str | None:
    """Return the key of the check standard that a device is now; None where it is none."""
    policy.check_signed_in(viewer)
    found = CheckStandard.objects.filter(device__key=device, ended_at=None)
    return found.values_list("key", flat=True).first()


def _query_standards() -> QuerySet[CheckStandard]:
    joined = CheckStandard.objects.select_related("device__design", "device__contributor")
    return joined.order_by(F("ended_at").desc(nulls_first=True), "pk")


def _build_row(viewer: Viewer, standard: CheckStandard) -> StandardRow:
    device = standard.device
    judged = check_sweeps.judge_standard(
        check_sweeps.build_check_sweep(row) for row in standard.query_sweeps()
    )
    ordered = sorted(judged, key=lambda chart: (chart.kind, chart.method, -len(chart.sweeps)))
    charts = tuple(_build_chart(number, chart) for number, chart in enumerate(ordered))
    newest = max(charts, key=lambda chart: chart.last_on, default=None)
    return StandardRow(
        key=standard.key,
        device=device.key,
        tag=device.tag,
        design_title=device.design.title,
        marked_at=standard.marked_at,
        counts_from=standard.counts_from,
        ended_at=standard.ended_at,
        state="not_enough" if newest is None else newest.state,
        charts=charts,
        offsets=tuple(_list_offsets(ordered, charts)),
        holds=waiting.list_holds_of_standard(standard),
        may_end=standard.ended_at is None and _may_alter(viewer, device),
    )


def _may_alter(viewer: Viewer, device: Device) -> bool:
    return viewer.is_operator and policy.can_alter_device(viewer, devices.get_device_ownership(device))


def _build_chart(number: int, chart: BenchChart) -> ChartRow:
    limits, newest = chart.history.limits, chart.sweeps[-1]
    bands = []
    for at, band in enumerate(chart.bands):
        mean, low, high = (_finite(each[at]) for each in (limits.mean, limits.low, limits.high))
        settled = low is not None
        bands.append(
            BandRow(
                band=band,
                sessions=int(limits.sessions[at]),
                mean=mean if settled else None,
                three_s=3 * float(limits.sd[at]) if settled else None,
                low=low,
                high=high,
                points=tuple(_list_points(chart, at)),
            )
        )
    return ChartRow(
        number=number,
        kind=chart.kind,
        method=chart.method,
        figure=chart.figure,
        analyser=chart.bench.analyser,
        jig=chart.bench.jig,
        account=chart.bench.account,
        state=chart.history.sweeps[-1].state,
        sessions=len(chart.history.sessions),
        least_sessions=control_chart.LEAST_SESSIONS,
        bands=tuple(bands),
        sweeps=len(chart.sweeps),
        last_on=newest.measured_on,
        bench=chart.bench.code,
        sessions_named=tuple(dict.fromkeys(sweep.session for sweep in chart.sweeps)),
    )


def _list_points(chart: BenchChart, at: int) -> list[PointRow]:
    judged: tuple[JudgedSweep, ...] = chart.history.sweeps
    return [
        PointRow(
            test=sweep.test,
            on=sweep.measured_on,
            value=_finite(row[at]),
            low=_finite(found.limits.low[at]),
            high=_finite(found.limits.high[at]),
            outside=bool(found.outside[at]),
        )
        for sweep, row, found in zip(chart.sweeps, chart.figures, judged, strict=True)
    ]


def _list_offsets(judged: list[BenchChart], charts: tuple[ChartRow, ...]) -> list[OffsetRow]:
    """List what each bench reads above the one of the same kind and method with most sessions."""
    found: list[OffsetRow] = []
    for kind in dict.fromkeys((chart.kind, chart.method) for chart in judged):
        both = [pair for pair in zip(judged, charts, strict=True) if (pair[0].kind, pair[0].method) == kind]
        here, here_row = max(both, key=lambda pair: pair[1].sessions)
        for there, there_row in both:
            bands = {} if there is here else check_sweeps.compute_bench_offset(there, here)
            if bands:
                found.append(
                    OffsetRow(
                        kind=there.kind,
                        method=there.method,
                        figure=there.figure,
                        bench=there_row.bench_name,
                        reference=here_row.bench_name,
                        sessions=there_row.sessions,
                        reference_sessions=here_row.sessions,
                        bands=tuple((band, *pair) for band, pair in bands.items()),
                    )
                )
    return found


def _finite(value: float) -> float | None:
    return float(value) if np.isfinite(value) else None
