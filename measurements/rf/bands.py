"""From sweep to band: coverage, and worst, centre and best with the band edges included.

The edges and the centre of every band are inserted into the sweep's frequency list first (complex
S-parameters interpolated linearly between neighbours); every figure is then computed once on the
longer list, and a band is a slice of it. Because a complex value on a chord never lies farther out
than both its ends, the largest |S| of the interpolated band is at one of these points.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from measurements.rf.sweeps.result_values import to_json_number
from measurements.rf.sweeps.sweep import Bools, Floats, Sweep

Coverage = Literal["full", "interpolated", "partial", "none"]
Worst = Literal["smallest", "largest", "largest_magnitude"]

# "Only full and interpolated count as evidence", and only they are judged.
JUDGED_COVERAGE: frozenset[Coverage] = frozenset({"full", "interpolated"})


@dataclass(frozen=True)
class Band:
    """An allocation of the band plan, edges in Hz."""

    name: str
    start_hz: float
    stop_hz: float

    @property
    def centre_hz(self) -> float:
        """Return half way between the edges."""
        return 0.5 * (self.start_hz + self.stop_hz)


@dataclass(frozen=True)
class BandView:
    """Where one band lies on a `BandGrid`.

    inside: slice of the grid's points, edges included (empty where the sweep misses the band).
    centre_index: the grid point at the band's centre, None where the sweep does not reach it.
    points_in_band: measured points inside, edges included.
    below_hz, above_hz: the measured neighbours that enclose the band, None where there is none.
    """

    band: Band
    coverage: Coverage
    points_in_band: int
    inside: slice
    centre_index: int | None
    covered_start_hz: float | None
    covered_stop_hz: float | None
    below_hz: float | None
    above_hz: float | None

    @property
    def judged(self) -> bool:
        """Say whether the coverage allows a verdict (`meets` is None otherwise)."""
        return self.coverage in JUDGED_COVERAGE

    def header(self) -> dict[str, Any]:
        """Return the part of a result's band object that every kind shares."""
        return {
            "band": self.band.name,
            "start_hz": to_json_number(self.band.start_hz),
            "stop_hz": to_json_number(self.band.stop_hz),
            "points_in_band": self.points_in_band,
            "coverage": self.coverage,
            "covered_start_hz": to_json_number(self.covered_start_hz),
            "covered_stop_hz": to_json_number(self.covered_stop_hz),
        }


@dataclass(frozen=True)
class BandGrid:
    """A sweep's frequencies with the edges and centres of the bands inserted.

    freq_hz: (G,) rising; measured: (G,) True where a point was measured; views: one per band.
    """

    freq_hz: Floats
    measured: Bools
    views: tuple[BandView, ...]


def build_band_grid(freq_hz: Floats, bands: Sequence[Band]) -> BandGrid:
    """Return the grid of `bands` over the measured `freq_hz` (F,), rising."""
    first, last = freq_hz[0], freq_hz[-1]
    wanted = np.array([hz for band in bands for hz in (band.start_hz, band.centre_hz, band.stop_hz)])
    reachable = wanted[(wanted > first) & (wanted < last)]
    grid_hz = np.union1d(freq_hz, reachable)
    measured = np.zeros(grid_hz.size, dtype=np.bool_)
    measured[np.searchsorted(grid_hz, freq_hz)] = True
    return BandGrid(grid_hz, measured, tuple(_view(freq_hz, grid_hz, band) for band in bands))


def _view(freq_hz: Floats, grid_hz: Floats, band: Band) -> BandView:
    first, last = float(freq_hz[0]), float(freq_hz[-1])
    points = int(np.searchsorted(freq_hz, band.stop_hz, "right") - np.searchsorted(freq_hz, band.start_hz))
    coverage = _coverage(first, last, points, band)
    if coverage == "none":
        return BandView(band, "none", points, slice(0, 0), None, None, None, None, None)
    start, stop = max(first, band.start_hz), min(last, band.stop_hz)
    inside = slice(int(np.searchsorted(grid_hz, start)), int(np.searchsorted(grid_hz, stop, "right")))
    centre = int(np.searchsorted(grid_hz, band.centre_hz)) if first <= band.centre_hz <= last else None
    below = int(np.searchsorted(freq_hz, band.start_hz, "right")) - 1
    above = int(np.searchsorted(freq_hz, band.stop_hz))
    return BandView(
        band,
        coverage,
        points,
        inside,
        centre,
        start,
        stop,
        float(freq_hz[below]) if below >= 0 else None,
        float(freq_hz[above]) if above < freq_hz.size else None,
    )


def _coverage(first_hz: float, last_hz: float, points: int, band: Band) -> Coverage:
    if first_hz <= band.start_hz and last_hz >= band.stop_hz:
        return "full" if points >= 2 else "interpolated"
    touching = first_hz < band.stop_hz and last_hz > band.start_hz
    return "partial" if touching else "none"


def interpolate(freq_hz: Floats, values: NDArray[Any], at_hz: Floats) -> NDArray[Any]:
    """Return `values` (F, ...) at `at_hz` (G,), linear between neighbours, along the first axis.

    Real or complex; a measured point comes back unchanged. Every `at_hz` must lie within
    `freq_hz`: ValueError otherwise, nothing is extrapolated.
    """
    if at_hz.size and (at_hz[0] < freq_hz[0] or at_hz[-1] > freq_hz[-1]):
        raise ValueError(f"{at_hz[0]} to {at_hz[-1]} Hz is not within {freq_hz[0]} to {freq_hz[-1]} Hz")
    if freq_hz.size == at_hz.size and np.array_equal(freq_hz, at_hz):
        return values
    lower, upper, weight = _between(freq_hz, at_hz)
    weight = weight.reshape(weight.shape + (1,) * (values.ndim - 1))
    blended: NDArray[Any] = values[lower] * (1 - weight) + values[upper] * weight
    return blended


def _between(freq_hz: Floats, at_hz: Floats) -> tuple[NDArray[np.intp], NDArray[np.intp], Floats]:
    """Return for each of `at_hz` the two points it lies between, and how far from the lower one (0 to 1)."""
    lower = np.searchsorted(freq_hz, at_hz, side="right") - 1
    upper = np.minimum(lower + 1, freq_hz.size - 1)
    step_hz = freq_hz[upper] - freq_hz[lower]
    weight = np.divide(at_hz - freq_hz[lower], step_hz, out=np.zeros(at_hz.size), where=step_hz > 0)
    return lower, upper, weight


class RowInterpolator:
    """`interpolate` from one list of frequencies to a grid made of it, for many sweeps: rows of an array."""

    def __init__(self, freq_hz: Floats, on: BandGrid) -> None:
        """freq_hz: (F,), what `on` (G points) was made of."""
        self._nearest, upper, weight = _between(freq_hz, on.freq_hz)
        self._inserted = np.flatnonzero(weight)
        self._lower, self._upper = self._nearest[self._inserted], upper[self._inserted]
        self._weight = weight[self._inserted]

    def __call__(self, rows: NDArray[np.complex128]) -> NDArray[np.complex128]:
        """Return (N, F) to (N, G); only inserted points are computed."""
        found = np.take(rows, self._nearest, axis=1)
        below, above = rows[:, self._lower], rows[:, self._upper]
        found[:, self._inserted] = below * (1 - self._weight) + above * self._weight
        return found


def resample_sweep(sweep: Sweep, freq_hz: Floats) -> Sweep:
    """Return `sweep` on other frequencies within its own span (complex S interpolated)."""
    return replace(sweep, freq_hz=freq_hz, s=interpolate(sweep.freq_hz, sweep.s, freq_hz))


def cut_sweep(sweep: Sweep, start_hz: float, stop_hz: float) -> Sweep:
    """Return `sweep` within a span; an end that falls between two points is interpolated."""
    if start_hz <= sweep.freq_hz[0] and stop_hz >= sweep.freq_hz[-1]:
        return sweep
    start_hz, stop_hz = max(start_hz, float(sweep.freq_hz[0])), min(stop_hz, float(sweep.freq_hz[-1]))
    inner = sweep.freq_hz[(sweep.freq_hz > start_hz) & (sweep.freq_hz < stop_hz)]
    return resample_sweep(sweep, np.concatenate([[start_hz], inner, [stop_hz]]))


@dataclass(frozen=True)
class BandMetrics:
    """Worst, its frequency, centre and best of values in one band, (...) each.

    NaN where a value is unknown; an infinite extreme stays infinite here.
    """

    worst: Floats
    worst_hz: Floats
    centre: Floats
    best: Floats

    def as_dicts(self) -> list[dict[str, float | None]]:
        """List {"worst", "worst_hz", "centre", "best"}, row by row; None for what is no finite number."""
        stacked = np.stack([self.worst, self.worst_hz, self.centre, self.best]).reshape(4, -1) + 0.0
        columns: list[list[float | None]] = stacked.tolist()  # -0.0 leaves as 0.0
        finite = np.isfinite(stacked)
        if not finite.all():
            columns = [
                [value if there else None for value, there in zip(*pair, strict=True)]
                for pair in zip(columns, finite.tolist(), strict=True)
            ]
        return [
            {"worst": worst, "worst_hz": hz, "centre": centre, "best": best}
            for worst, hz, centre, best in zip(*columns, strict=True)
        ]

    def keep_to(self, worst: Worst, limit: float) -> list[bool | None]:
        """Return tell, row by row, whether the worst keeps to `limit`; None where nothing is known.

        Infinities count as what they are.
        """
        meets = (_badness(self.worst, worst) <= (-limit if worst == "smallest" else limit)).ravel().tolist()
        unknown = np.isnan(self.worst).ravel()
        if not unknown.any():
            return list(meets)
        return [None if missing else met for met, missing in zip(meets, unknown.tolist(), strict=True)]


def compute_band_metrics(
    view: BandView, freq_hz: Floats, values: Floats, worst: Worst, *, strict: bool = False
) -> BandMetrics:
    """Find the extremes of `values` (..., G) in one band.

    worst: which end is bad. NaN points are left out; with `strict` one of them leaves the worst unknown.
    """
    shape = values.shape[:-1]
    inside = values[..., view.inside]
    if not inside.shape[-1]:
        unknown = np.full(shape, np.nan)
        return BandMetrics(unknown, unknown, unknown, unknown)
    badness = _badness(inside, worst).reshape(-1, inside.shape[-1])
    undefined = np.isnan(badness)
    gaps = bool(undefined.any())
    at_worst = _find_largest(badness, undefined if gaps else None)
    at_best = _find_largest(-badness, undefined if gaps else None)
    rows = np.arange(len(badness))
    flat = inside.reshape(badness.shape)
    worst_value, best = flat[rows, at_worst].reshape(shape), flat[rows, at_best].reshape(shape)
    worst_hz = freq_hz[view.inside][at_worst].reshape(shape)
    centre = np.full(shape, np.nan) if view.centre_index is None else values[..., view.centre_index]
    if gaps:
        none = undefined.all(axis=-1).reshape(shape)
        hidden = undefined.any(axis=-1).reshape(shape) if strict else none
        worst_value, worst_hz = np.where(hidden, np.nan, worst_value), np.where(hidden, np.nan, worst_hz)
        centre = np.where(none, np.nan, centre)
    return BandMetrics(worst_value, worst_hz, centre, best)


def _find_largest(values: Floats, undefined: Bools | None) -> NDArray[np.intp]:
    """Find the index (N,) of the first largest of values (N, B) that is defined."""
    if undefined is None:
        return np.asarray(values.argmax(axis=-1))
    rows = np.arange(len(values))
    at = np.where(undefined, -np.inf, values).argmax(axis=-1)
    # beside defined values of -inf the filling is as large as they are
    found: NDArray[np.intp] = np.where(undefined[rows, at], (~undefined).argmax(axis=-1), at)
    return found


def compute_band_metric(
    view: BandView, freq_hz: Floats, values: Floats, worst: Worst, *, strict: bool = False
) -> dict[str, float | None]:
    """Find the extremes of one curve (G,) in one band, as a result shows them."""
    return compute_band_metrics(view, freq_hz, values, worst, strict=strict).as_dicts()[0]


def _badness(values: Floats, worst: Worst) -> Floats:
    if worst == "smallest":
        return -values
    return values if worst == "largest" else np.abs(values)


def judge_covered_part(
    view: BandView, values: Floats, worst: Worst, limit: float, *, strict: bool = False
) -> bool | None:
    """Tell whether the worst of what the sweep covers of a band keeps to `limit`; values (G,).

    None where nothing is known; with `strict` one undefined point makes it None.
    """
    extremes = compute_band_metrics(view, np.zeros(values.size), values, worst, strict=strict)
    return extremes.keep_to(worst, limit)[0]


def judge_band(
    view: BandView, values: Floats, worst: Worst, limit: float, *, strict: bool = False
) -> bool | None:
    """Return `covered_within` for a band that may be judged; None where the coverage does not allow it."""
    return judge_covered_part(view, values, worst, limit, strict=strict) if view.judged else None
