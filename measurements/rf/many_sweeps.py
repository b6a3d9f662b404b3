"""Common-mode tests of one frequency list at once: what a recomputation of thousands goes through.

`analyse_many` gives what `analysis.analyse` gives, test by test, to the last digit. Tests that are plain (a
two-port at 50 ohm with phase, without jig sweeps, and nothing about it doubtful) and share their
frequencies, bands and limits are computed together as (N, F) arrays; every other one, and whatever looks
in the least as if it would raise a flag of its own, goes through `analyse` by itself.
N tests, F frequencies, G grid points.
"""

from __future__ import annotations

from collections.abc import Hashable, Sequence
from typing import Any

import numpy as np
from numpy.typing import NDArray

from . import analysis, many_figures, series_through
from .bands import BandGrid, band_grid, interpolate
from .flags import Flag
from .grid import EvidenceCurve
from .request import Analysis, Computed, Request
from .sanity import unmeasured
from .settings import NOMINAL_OHM
from .sweep import Bools, Complexes, Floats

TOGETHER = 64  # tests computed at once: their arrays stay in the processor's cache
FEW = 4  # under this many, one by one is as quick
_DOUBT_POWER = 0.004  # below what `sanity` allows on average: whoever exceeds it is looked at alone
_DOUBT_RECIPROCAL = 0.009
_DOUBT_DB = (1.1, 49.0, 3.1)  # `wiring`: through, open, flat; each a little wider
_DOUBT_LOSSLESS, _DOUBT_SHARE = 0.31, 0.89
_VANISHING = 1e-15


def analyse_many(requests: Sequence[Request]) -> list[Analysis]:
    """What `analyse` answers for each request, in their order; raises what it raises."""
    found: dict[int, Analysis] = {}
    alike: dict[Hashable, list[int]] = {}
    for index, request in enumerate(requests):
        if _may_be_plain(request):
            alike.setdefault(_grid_key(request), []).append(index)
    for members in alike.values():
        shared = _Shared(requests[members[0]])
        for start in range(0, len(members), TOGETHER):
            some = members[start : start + TOGETHER]
            if len(some) >= FEW:
                found |= _together(requests, some, shared)
    return [
        found[index] if index in found else analysis.analyse(request)
        for index, request in enumerate(requests)
    ]


def _may_be_plain(request: Request) -> bool:
    if request.kind != "common_mode" or request.readings is not None or set(request.sweeps) != {"sweep"}:
        return False
    sweep = request.sweeps["sweep"]
    return (
        request.method is None
        and sweep.ports == 2
        and not sweep.magnitude_only
        and bool(sweep.measured[1, 0])
        and bool((sweep.z0_ohm == NOMINAL_OHM).all())
    )


def _grid_key(request: Request) -> Hashable:
    sweep = request.sweeps["sweep"]
    return sweep.freq_hz.tobytes(), sweep.measured.tobytes(), request.bands, request.limits, request.ratio


class _Shared:
    """What tests of one frequency list, band plan and benchmark have in common."""

    def __init__(self, request: Request) -> None:
        self.sweep = request.sweeps["sweep"]
        self.on = band_grid(self.sweep.freq_hz, request.bands)
        self.views = many_figures.views_of(self.on)
        self.benchmark_db = request.limits.benchmark_db
        self.method = series_through.best_method(self.sweep)
        self.lacking = unmeasured(self.sweep, "sweep")
        self.points = analysis.trace_points(self.on)
        self.head = analysis.head(request, Computed(self.method, self.on, (), {}, (), {}, self.sweep))
        self._matters = any(view.coverage == "partial" for view in self.on.views)
        self._known: dict[tuple[bool | None, ...], tuple[Flag, ...]] = {}

    def coverage(self, covered_meets: tuple[bool | None, ...]) -> tuple[Flag, ...]:
        """Flags on coverage: on one grid they differ only by how what is covered of a band stands."""
        key = covered_meets if self._matters else ()
        if key not in self._known:
            metrics = [{"covered_meets": meets} for meets in covered_meets]
            self._known[key] = tuple(analysis.of_coverage("common_mode", self.on, metrics))
        return self._known[key]


def _together(requests: Sequence[Request], members: list[int], shared: _Shared) -> dict[int, Analysis]:
    sweep, on = shared.sweep, shared.on
    s = np.stack([requests[index].sweeps["sweep"].s for index in members])
    columns = {
        (i, j): interpolate(sweep.freq_hz, s[:, :, i, j].T, on.freq_hz).T
        for i, j in np.argwhere(sweep.measured).tolist()
    }
    z_ohm = _impedance(columns, shared.method)
    read_db = series_through.rejection_db(columns[1, 0])
    plain = _plain(s, sweep.measured, columns[1, 0], read_db, z_ohm)
    kept = [index for index, is_plain in zip(members, plain, strict=True) if is_plain]
    if not kept:
        return {}
    if len(kept) < len(members):
        columns[1, 0], read_db, z_ohm = columns[1, 0][plain], read_db[plain], z_ohm[plain]
    figures = many_figures.of(shared.views, on, columns[1, 0], read_db, z_ohm, shared.benchmark_db)
    traces = _traces(on, shared.points, read_db, z_ohm)
    return {
        index: Analysis(
            _result(requests[index], shared, figures, row),
            {name: values if values.ndim == 1 else values[row] for name, values in traces.items()},
            EvidenceCurve(figures.curves[row]),
        )
        for row, index in enumerate(kept)
    }


def _impedance(columns: dict[tuple[int, int], Complexes], method: series_through.Method) -> Complexes:
    """(N, G) Zcm at 50 ohm, as `series_through.series_impedance` has it for one sweep."""
    if method == "s21":
        return series_through.z_from_s21(columns[1, 0], NOMINAL_OHM, NOMINAL_OHM)
    return series_through.z_from_columns(
        columns[0, 0], columns[0, 1], columns[1, 0], columns[1, 1], NOMINAL_OHM, NOMINAL_OHM
    )


def _plain(s: Complexes, measured: Bools, through: Complexes, read_db: Floats, z_ohm: Complexes) -> Bools:
    """(N,) which tests raise no flag on passivity, reciprocity or wiring: the limits here are stricter."""
    squared = s.real**2 + s.imag**2
    plain: Bools = np.isfinite(z_ohm).all(axis=1) & (through != 0).all(axis=1)
    if squared.min(initial=1.0) < _VANISHING**2:
        plain &= ~((squared < _VANISHING**2) & (s != 0)).any(axis=(1, 2, 3))
    weighed = squared if measured.all() else squared * measured
    power = (weighed[:, :, 0, :] + weighed[:, :, 1, :]).max(axis=(1, 2))
    plain &= power <= 1 + _DOUBT_POWER
    if measured.all():
        apart = np.abs(s[:, :, 1, 0] - s[:, :, 0, 1]).max(axis=1)
        plain &= apart <= _DOUBT_RECIPROCAL
    through_db, open_db, flat_db = _DOUBT_DB
    highest = read_db.max(axis=1)
    wired = highest > through_db
    if (highest >= open_db).any():
        wired &= (read_db >= open_db).mean(axis=1) < _DOUBT_SHARE
    # Y = t/(1 - t) has the phase of t - |t|^2: few picofarad are a positive imaginary part alone
    real = through.real - (through.real**2 + through.imag**2)
    clips = (np.abs(real) < _DOUBT_LOSSLESS * through.imag).mean(axis=1) >= _DOUBT_SHARE
    plain &= wired & ~clips & (_inner_range(read_db) > flat_db)
    return plain


def _inner_range(read_db: Floats) -> Floats:
    """(N,) a range that the 5th to 95th percentile is not narrower than."""
    points = read_db.shape[1]
    low, high = int(np.ceil(0.05 * (points - 1))), int(np.floor(0.95 * (points - 1)))
    ordered = np.partition(read_db, (low, high), axis=1)
    span: Floats = ordered[:, high] - ordered[:, low]
    return span


def _result(request: Request, shared: _Shared, figures: many_figures.ManyFigures, row: int) -> dict[str, Any]:
    flags = (
        *shared.lacking,
        *analysis.of_declarations(request),
        *shared.coverage(figures.covered[row]),
        *figures.flags[row],
    )
    return {
        **shared.head,
        "bands": list(figures.bands[row]),
        "summary": figures.summaries[row],
        "flags": [one.as_dict() for one in dict.fromkeys(flags)],
        "inputs": [analysis.input_of("sweep", request.sweeps["sweep"])],
    }


def _traces(on: BandGrid, at: NDArray[np.intp], rejection_db: Floats, z_ohm: Complexes) -> dict[str, Floats]:
    thin_db, thin_ohm = rejection_db[:, at], z_ohm[:, at]
    return {
        "freq_hz": on.freq_hz[at],
        "rejection_db": thin_db,
        "rejection_raw_db": thin_db,
        "resistance_ohm": thin_ohm.real,
        "impedance_ohm": np.abs(thin_ohm),
        "reactance_ohm": thin_ohm.imag,
    }
