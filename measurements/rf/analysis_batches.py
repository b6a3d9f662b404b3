"""Common-mode tests of one frequency list at once: the door for a recomputation of thousands.

`analyse_many` gives what `analysis.analyse` gives, test by test, to the last digit, because the figures are
`choke_results` there and here, over arrays (N, G). Tests that are plain (a two-port at 50 ohm with phase,
without jig sweeps, and nothing about it doubtful) and share their frequencies, bands and limits go through
together; every other one, and whatever looks in the least as if it would raise a flag of its own, goes alone.
N tests, F frequencies, G grid points.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np

from measurements.rf import analysis
from measurements.rf.bands import Band, RowInterpolator, build_band_grid
from measurements.rf.evidence_grid import EvidenceCurve
from measurements.rf.impedance_ratio import NOMINAL_OHM
from measurements.rf.instruments.assumed_errors import assume_errors
from measurements.rf.instruments.sweep_checks import flag_unmeasured
from measurements.rf.instruments.withheld_verdicts import withhold_span, withhold_verdicts
from measurements.rf.kinds import choke_results
from measurements.rf.kinds.choke_results import ChokeCurves
from measurements.rf.kinds.choke_uncertainty import ChokeBench, propagate_choke
from measurements.rf.networks import series_through
from measurements.rf.request import Analysis, Computed, Request
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats, Sweep
from measurements.rf.wrong_input import choke_sweeps, delay_behind_port2, file_faults

TOGETHER = 64  # tests computed at once: their arrays stay in the processor's cache
# Bytes. glibc gives free memory back to the system beyond twice the largest block it has given back so far
# (mallopt(3), M_MMAP_THRESHOLD), and fetches it page by page again for the next arrays: a fifth of the time
# went there. One block of about what a group needs, taken and let go of, makes it keep that much.
ROOM = 4 * 2**20
FEW = 4  # under this many, one by one is as quick
_DOUBT_POWER = 0.004  # below what `sanity` allows on average: whoever exceeds it is looked at alone
_DOUBT_RECIPROCAL = 0.009
_DOUBT_DB = (1.1, 49.0, 3.1)  # `wiring`: through, open, flat; each a little wider
_DOUBT_LOSSLESS, _DOUBT_SHARE = 0.31, 0.89
_DOUBT_MISFIT = 0.01  # of S11 + S21 = 1: half of what the least assumed errors allow
_DOUBT_TURN = 0.02  # tangent of a little more than the degree that a device turns at least
_LOW_POINTS = 10
_VANISHING = 1e-15


def analyse_many(requests: Sequence[Request]) -> list[Analysis]:
    """Analyse many requests; results in their order, equal to those of `analyse`. Raises as it does."""
    np.empty(ROOM, dtype=np.uint8)  # taken, never touched, given back
    found: dict[int, Analysis] = {}
    for members in _alike(requests):
        shared = _Shared(requests[members[0]])
        for start in range(0, len(members), TOGETHER):
            some = members[start : start + TOGETHER]
            if len(some) >= FEW:
                found |= _together(requests, some, shared)
    return [
        found[index] if index in found else analysis.analyse(request)
        for index, request in enumerate(requests)
    ]


def _alike(requests: Sequence[Request]) -> list[list[int]]:
    """Return places of those that may be plain and differ in nothing but what was measured, `FEW` or more."""
    alike: dict[Hashable, list[int]] = {}
    plans: dict[tuple[Band, ...], int] = {}
    plan_at: dict[
        int, int
    ] = {}  # one object is looked at once: comparing nine bands takes longer than all else
    for index, request in enumerate(requests):
        if request.kind == "common_mode" and request.readings is None and request.method is None:
            sweep = request.sweeps.get("sweep")
            if sweep is not None and len(request.sweeps) == 1:
                plan = plan_at.get(id(request.bands))
                if plan is None:
                    plan = plan_at[id(request.bands)] = plans.setdefault(request.bands, len(plans))
                alike.setdefault(_key(request, sweep, plan), []).append(index)
    return [
        members
        for members in alike.values()
        if len(members) >= FEW and _may_be_plain(requests[members[0]].sweeps["sweep"])
    ]


def _may_be_plain(sweep: Sweep) -> bool:
    return (
        sweep.ports == 2
        and not sweep.magnitude_only
        and bool(sweep.measured[1, 0])
        and bool((sweep.z0_ohm == NOMINAL_OHM).all())
    )


def _key(request: Request, sweep: Sweep, plan: int) -> Hashable:
    arrays = sweep.freq_hz.tobytes(), sweep.z0_ohm.tobytes(), sweep.measured.tobytes()
    instrument = request.analyser, sweep.source == "turned"
    return arrays, sweep.magnitude_only, plan, request.limits, request.ratio.as_integer_ratio(), instrument


class _Shared:
    """What tests of one frequency list, band plan and benchmark have in common."""

    def __init__(self, request: Request) -> None:
        self.sweep = sweep = request.sweeps["sweep"]
        self.on = build_band_grid(sweep.freq_hz, request.bands)
        self.on_grid = RowInterpolator(sweep.freq_hz, self.on)
        self.headers = [view.header() for view in self.on.views]
        self.benchmark_db = request.limits.benchmark_db
        self.method = series_through.choose_impedance_method(sweep)
        self.bench = ChokeBench(
            request.analyser,
            self.method,
            request.analyser.get_port2_match(sweep),
            is_turned=self.method == "y21" and request.analyser.get_paths(sweep) == 1,
        )
        self.measured: list[tuple[int, int]] = [(i, j) for i, j in np.argwhere(sweep.measured).tolist()]
        self.points = analysis.select_trace_points(self.on)
        self.head = analysis.build_result_head(request, Computed(self.method, self.on, (), {}, (), {}, sweep))
        self.input = analysis.describe_input("sweep", sweep)
        self._lacking = flag_unmeasured(sweep, "sweep")
        self._matters = any(view.coverage == "partial" for view in self.on.views)
        self._flags: dict[Hashable, list[dict[str, str | None]]] = {}

    def flags(
        self, request: Request, covered: tuple[bool | None, ...], raised: choke_results.Raised
    ) -> list[dict[str, str | None]]:
        """Return the flags of a test as results have them; on one grid few combinations differ.

        covered: whether what is covered of each band meets, raised: see `list_absence_flags`.
        """
        key = request.calibrated, request.same_bytes, covered if self._matters else (), raised
        if key not in self._flags:
            metrics = [{"covered_meets": meets} for meets in covered]
            found = (
                *self._lacking,
                *analysis.flag_declarations(request),
                *analysis.flag_coverage("common_mode", self.on, metrics),
                *choke_results.list_absence_flags(raised, self.benchmark_db),
            )
            self._flags[key] = [one.as_dict() for one in dict.fromkeys(found)]
        return [one.copy() for one in self._flags[key]]


def _together(requests: Sequence[Request], members: list[int], shared: _Shared) -> dict[int, Analysis]:
    sweeps = [requests[index].sweeps["sweep"] for index in members]
    columns = _columns(sweeps, shared.measured)
    curves = _curves(columns, shared)
    spread = propagate_choke(shared.on.freq_hz, curves.normalised, curves.z_ohm, shared.bench)
    plain = _plain(columns, curves) & ~choke_results.find_impossible_rows(curves, spread)
    plain &= _are_chokes([requests[index] for index in members], columns, curves, plain)
    kept = [index for index, is_plain in zip(members, plain.tolist(), strict=True) if is_plain]
    if not kept:
        return {}
    if len(kept) < len(members):
        curves, spread = curves.select_rows(plain), spread.select_rows(plain)
    found = choke_results.compute_choke_results(shared.on, curves, spread, shared.benchmark_db)
    traces = {"freq_hz": shared.on.freq_hz[shared.points], **choke_results.list_traces(curves, shared.points)}
    evidence = found.evidence
    return {
        index: Analysis(
            _result(requests[index], shared, found, row),
            {name: values if values.ndim == 1 else values[row] for name, values in traces.items()},
            None if evidence is None else EvidenceCurve(evidence[row]),
        )
        for row, index in enumerate(kept)
    }


def _columns(sweeps: list[Sweep], measured: list[tuple[int, int]]) -> dict[tuple[int, int], Complexes]:
    """Return (N, F) each measured S-parameter of every sweep, its points side by side."""
    shape = len(sweeps), sweeps[0].points
    columns = {at: np.empty(shape, dtype=np.complex128) for at in measured}
    for row, sweep in enumerate(sweeps):  # each sweep is fetched from memory once
        for (i, j), column in columns.items():
            column[row] = sweep.s[:, i, j]
    return columns


def _curves(columns: dict[tuple[int, int], Complexes], shared: _Shared) -> ChokeCurves:
    through = shared.on_grid(columns[1, 0])
    if shared.method == "s21":
        z_ohm = series_through.z_from_s21(through, NOMINAL_OHM, NOMINAL_OHM)
    else:
        s = np.empty((*through.shape, 2, 2), np.complex128)
        for (i, j), column in columns.items():
            s[:, :, i, j] = through if (i, j) == (1, 0) else shared.on_grid(column)
        z_ohm = series_through.z_from_s(s, NOMINAL_OHM, NOMINAL_OHM)
    return ChokeCurves(through, through, None, z_ohm, None, "raw")


def _plain(columns: dict[tuple[int, int], Complexes], curves: ChokeCurves) -> Bools:
    """Return (N,) which tests raise no flag on passivity, reciprocity or wiring: the limits here are
    stricter.
    """
    through, read_db = curves.raw, curves.raw_db
    defined = np.isfinite(curves.size_ohm).all(axis=1)  # nowhere that S21 is 0
    plain: Bools = defined & _is_passive(columns)
    if (0, 1) in columns:
        apart = _squared(columns[1, 0] - columns[0, 1]).max(axis=1)
        plain &= apart <= _DOUBT_RECIPROCAL**2
    through_db, open_db, flat_db = _DOUBT_DB
    highest = read_db.max(axis=1)
    wired = highest > through_db
    if (highest >= open_db).any():
        wired &= (read_db >= open_db).mean(axis=1) < _DOUBT_SHARE
    # Y = t/(1 - t) has the phase of t - |t|^2: few picofarad are a positive imaginary part alone
    clips = np.abs(through.real - curves.judged_size**2) < _DOUBT_LOSSLESS * through.imag
    plain &= wired & (clips.mean(axis=1) < _DOUBT_SHARE) & (_inner_range(read_db) > flat_db)
    return plain


def _are_chokes(
    requests: Sequence[Request], columns: dict[tuple[int, int], Complexes], curves: ChokeCurves, plain: Bools
) -> Bools:
    """Return (N,) which tests no detector of wrong input would flag.

    Most are surely sound; the detectors themselves look at the others that are `plain`, one by one.
    """
    if curves.z_ohm is None:
        return np.zeros(len(plain), np.bool_)
    sound: Bools = curves.z_ohm.imag[:, :_LOW_POINTS].min(axis=1) > 0
    for end in (0, 1):
        if (end, end) in columns and (1 - end, end) in columns:
            misfit = _squared(columns[end, end] + columns[1 - end, end] - 1)
            sound &= misfit.max(axis=1) < _DOUBT_MISFIT**2
    through = columns[1, 0]
    sound &= (np.abs(through.imag) > _DOUBT_TURN * np.abs(through.real)).any(axis=1)
    for row in np.flatnonzero(plain & ~sound).tolist():
        sweep = requests[row].sweeps["sweep"]
        errors = assume_errors(sweep, requests[row].analyser)
        detect = (choke_sweeps.flag_cable_left_in, choke_sweeps.flag_reversed_phase)
        delay_s = delay_behind_port2.find_delay_behind_port2(sweep, errors)
        flat = file_faults.flag_phase_too_small(sweep, "sweep")
        sound[row] = delay_s is None and not flat and not any(find(sweep, errors) for find in detect)
    return sound


def _is_passive(columns: dict[tuple[int, int], Complexes]) -> Bools:
    """Return (N,) which certainly give no more than they get, and have nothing that `prepare` takes for 0."""
    power: dict[int, Floats] = {}
    passive = np.ones(len(columns[1, 0]), dtype=np.bool_)
    for (_, j), column in columns.items():
        squared = _squared(column)
        if squared.min() < _VANISHING**2:
            passive &= ~((squared < _VANISHING**2) & (column != 0)).any(axis=1)
        power[j] = power[j] + squared if j in power else squared
    for each in power.values():
        passive &= each.max(axis=1) <= 1 + _DOUBT_POWER
    return passive


def _squared(values: Complexes) -> Floats:
    """Return |values|^2 (N, F) of an array whose parts lie side by side."""
    parts = values.view(np.float64)
    parts = parts * parts
    squared: Floats = parts[:, ::2] + parts[:, 1::2]
    return squared


def _inner_range(read_db: Floats) -> Floats:
    """Return (N,) a range that the 5th to 95th percentile is not narrower than."""
    points = read_db.shape[1]
    low, high = int(np.ceil(0.05 * (points - 1))), int(np.floor(0.95 * (points - 1)))
    ordered = np.partition(read_db, (low, high), axis=1)
    with np.errstate(invalid="ignore"):  # one complete block less another
        span: Floats = ordered[:, high] - ordered[:, low]
    return span


def _result(request: Request, shared: _Shared, found: choke_results.ChokeResults, row: int) -> dict[str, Any]:
    sweep = request.sweeps["sweep"]
    given = shared.input.copy()
    given["source"], given["notes"] = sweep.source, list(sweep.notes)
    result = shared.head.copy()
    result["bands"] = [
        {**header, **band} for header, band in zip(shared.headers, found.bands[row], strict=True)
    ]
    result["summary"] = found.summaries[row]
    flags = result["flags"] = shared.flags(request, found.covered[row], found.raised[row])
    if any(flag["severity"] == "exclude" for flag in flags):
        result["bands"] = withhold_verdicts(result["bands"], flags)
        result["summary"] = withhold_span(result["summary"], flags)
    result["inputs"] = [given]
    return result
