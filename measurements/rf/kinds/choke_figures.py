"""Figures of a whole common-mode sweep: span, resonance, peak, inductance, stray capacitance.

Everything takes (..., F) arrays on one frequency list and answers (...) arrays, so that many sweeps of one
grid go through at once. NaN means that the figure does not exist.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measurements.rf.networks.two_port import divide_or_nan
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

_Indices = NDArray[np.intp]
_Signs = NDArray[np.int8]
_ROUNDING = 1e-9  # a reactance this small beside |Z| is rounding, not inductive or capacitive
_WINDOW = 0.5 * np.log(2.0)  # half an octave on either side of a resonance decides whether it is one
_ROOM = 2.0  # "well below resonance": at most half of it, after the stray capacitance is taken out
_FAR_ABOVE = 1.5  # a sweep that ends lower cannot tell the capacitance from what is left of the winding
_LOWEST = 2.0 ** (1 / 3)  # the lowest third of an octave: above it a ferrite's permeability falls
_SMALLEST_OHM = 5.0  # below this a series reactance drowns in the error of a 50-ohm S21


@dataclass(frozen=True)
class ChokeFigures:
    """What the impedance of sweeps says, (...) each; NaN where a figure does not exist."""

    self_resonance_hz: Floats
    peak_impedance_ohm: Floats
    peak_impedance_hz: Floats
    inductance_h: Floats
    stray_capacitance_f: Floats


def compute_choke_figures(freq_hz: Floats, z_ohm: Complexes, size_ohm: Floats) -> ChokeFigures:
    """Return every figure of Zcm: each as its own function below has it. z_ohm: (..., F); size_ohm:
    |z_ohm|.
    """
    x = np.ascontiguousarray(z_ohm.imag)
    sign = _sign_of_reactance(x, size_ohm)
    resonance_hz = _self_resonance_hz(freq_hz, x, sign)
    peak_ohm, peak_hz = _peak(freq_hz, size_ohm)
    stray_f = _stray_capacitance_f(freq_hz, z_ohm, sign, resonance_hz)
    inductance = _inductance_h(freq_hz, z_ohm, sign, resonance_hz, stray_f)
    return ChokeFigures(resonance_hz, peak_ohm, peak_hz, inductance, stray_f)


def find_widest_span(freq_hz: Floats, through: Complexes, benchmark_db: float) -> tuple[float, float] | None:
    """Return `widest_spans` of one sweep (F,), or None where there is none."""
    one = through[None, :]
    start, stop = find_widest_spans(freq_hz, one, np.abs(one), benchmark_db)[0].tolist()
    return None if start != start else (start, stop)


def find_widest_spans(freq_hz: Floats, through: Complexes, size: Floats, benchmark_db: float) -> Floats:
    """Return the widest unbroken spans (N, 2) in Hz with |through| <= -benchmark_db; NaN where there is none.

    Ends between two points are where the complex chord between them crosses the limit, exactly; of two
    spans of one width the lower counts. freq_hz: (F,). through: (N, F); size: |through|.
    """
    limit = 10.0 ** (-benchmark_db / 20.0)
    meets = np.zeros((len(through), freq_hz.size + 2), dtype=np.bool_)  # the rims stay outside
    np.less_equal(size, limit, out=meets[:, 1:-1])  # False where NaN
    # rows begin and end outside: every other change begins a span, the one after it is behind its end
    changes = np.flatnonzero(meets[:, 1:] != meets[:, :-1])
    row, change = np.divmod(changes, freq_hz.size + 1)
    row, first, last = row[::2], change[::2], change[1::2] - 1
    start, stop = freq_hz[first], freq_hz[last]
    inner = first > 0
    start[inner] = _crossing(freq_hz, through, row[inner], first[inner], first[inner] - 1, limit)
    inner = last < freq_hz.size - 1
    stop[inner] = _crossing(freq_hz, through, row[inner], last[inner], last[inner] + 1, limit)
    found = np.full((len(through), 2), np.nan)
    # narrow ones first, so that the widest is written last; the lowest of equals last of all
    order = np.lexsort((-first, stop - start))
    found[row[order]] = np.stack([start, stop], axis=1)[order]
    return found


def _crossing(
    freq_hz: Floats, through: Complexes, row: _Indices, inner: _Indices, outer: _Indices, limit: float
) -> Floats:
    """Return frequencies between points within the limit and their neighbours outside it."""
    a, b = through[row, inner], through[row, outer]
    known = np.isfinite(b)
    step = np.where(known, b - a, 1.0)
    # |a + t step|^2 = limit^2 with |a| <= limit < |b|: one root in [0, 1).
    square, half, rest = np.abs(step) ** 2, (a * np.conj(step)).real, np.abs(a) ** 2 - limit**2
    t = (-half + np.sqrt(np.maximum(half**2 - square * rest, 0.0))) / square
    crossing: Floats = freq_hz[inner] + np.where(known, t, 0.0) * (freq_hz[outer] - freq_hz[inner])
    return crossing


def self_resonance_hz(freq_hz: Floats, z_ohm: Complexes) -> Floats:
    """Find where X passes through zero from + to -, interpolated: the lowest one that noise does not
    explain.

    A crossing counts by the share of inductive points half an octave below and of capacitive ones half
    an octave above it; among the crossings of one noisy passage the best-supported is taken.
    """
    return _self_resonance_hz(freq_hz, z_ohm.imag, _sign_of_reactance(z_ohm.imag, np.abs(z_ohm)))


def _self_resonance_hz(freq_hz: Floats, x: Floats, sign: _Signs) -> Floats:
    shape, points = sign.shape[:-1], freq_hz.size
    x, sign = x.reshape(-1, points), sign.reshape(-1, points)
    found = np.full(len(sign), np.nan)
    falls = np.flatnonzero((sign[:, :-1] > 0) & (sign[:, 1:] <= 0))
    if not falls.size:
        return found.reshape(shape)
    row, at = np.divmod(falls, points - 1)
    support = _support(freq_hz, sign, row, at)
    best, lowest_hz = np.zeros(len(sign)), np.full(len(sign), np.inf)
    np.maximum.at(best, row, support)
    eligible = (support > 0.5) & (support >= 0.8 * best[row])
    np.minimum.at(lowest_hz, row[eligible], freq_hz[at[eligible]])
    passage = eligible & (freq_hz[at] <= lowest_hz[row] * np.sqrt(2.0))
    row, at, support = row[passage], at[passage], support[passage]
    before, after = x[row, at], x[row, at + 1]
    share = np.divide(before, before - after, out=np.zeros(before.shape), where=before != after)
    hz = freq_hz[at] + share * (freq_hz[at + 1] - freq_hz[at])
    # the best-supported is written last; the lowest of equals last of all
    order = np.lexsort((-at, support))
    found[row[order]] = hz[order]
    return found.reshape(shape)


def _sign_of_reactance(x: Floats, size_ohm: Floats) -> _Signs:
    """Return +1 inductive, -1 capacitive, 0 where neither (rounding) or undefined. size_ohm: |Zcm|."""
    least = _ROUNDING * size_ohm
    sign: _Signs = (x > least).view(np.int8) - (x < -least).view(np.int8)  # False where NaN
    return sign


def _support(freq_hz: Floats, sign: _Signs, row: _Indices, at: _Indices) -> Floats:
    """Return for some intervals between two points: mean sign below it minus mean sign above it, halved.

    sign: (N, F). row, at: of the lower point of each interval.
    """
    total = np.zeros((len(sign), freq_hz.size + 1), dtype=np.int32)
    np.cumsum(sign, axis=1, dtype=np.int32, out=total[:, 1:])
    position = np.log(np.maximum(freq_hz, 1.0))
    middle = at + 1
    low = np.minimum(np.searchsorted(position, position[at] - _WINDOW), at)
    high = np.maximum(np.searchsorted(position, position[middle] + _WINDOW, "right"), middle + 1)
    below = (total[row, middle] - total[row, low]) / (middle - low)
    above = (total[row, high] - total[row, middle]) / (high - middle)
    support: Floats = 0.5 * (below - above)
    return support


def find_peak_impedance(freq_hz: Floats, z_ohm: Complexes) -> tuple[Floats, Floats]:
    """Return largest |Zcm| and its frequency; NaN where no point is defined."""
    return _peak(freq_hz, np.abs(z_ohm))


def _peak(freq_hz: Floats, size_ohm: Floats) -> tuple[Floats, Floats]:
    at = np.argmax(np.where(np.isnan(size_ohm), -1.0, size_ohm), axis=-1)
    peak_ohm = _take(size_ohm, at)
    return peak_ohm, np.where(np.isnan(peak_ohm), np.nan, freq_hz[at])


def stray_capacitance_f(freq_hz: Floats, z_ohm: Complexes, resonance_hz: Floats) -> Floats:
    """Return capacitance in parallel with the winding that fits the capacitive points above resonance.

    Least squares of Im(1/Z) = w C - G/w, where G/w is the remainder of the winding itself. Where the
    sweep ends less than half as high again as the resonance wr, G is taken from it: G = wr^2 C.
    NaN without a resonance, with fewer than three points, or where the fit is not positive.
    """
    sign = _sign_of_reactance(z_ohm.imag, np.abs(z_ohm))
    return _stray_capacitance_f(freq_hz, z_ohm, sign, resonance_hz)


def _stray_capacitance_f(freq_hz: Floats, z_ohm: Complexes, sign: _Signs, resonance_hz: Floats) -> Floats:
    omega = 2 * np.pi * freq_hz
    resonance = np.expand_dims(resonance_hz, -1)
    used = (freq_hz >= resonance) & (sign < 0) & (freq_hz > 0)  # False where NaN
    lowest_hz = np.fmin.reduce(resonance_hz, axis=None, initial=np.inf)
    above = np.s_[..., int(np.searchsorted(freq_hz, lowest_hz)) :]
    susceptance = np.zeros(z_ohm.shape)
    np.copyto(susceptance[above], divide_or_nan(1.0, z_ohm[above]).imag, where=used[above])
    up: Floats = used * omega
    reciprocal: Floats = np.divide(1.0, omega, out=np.zeros_like(omega), where=omega > 0)
    down: Floats = used * reciprocal
    product = np.empty(z_ohm.shape)  # one room for all of them

    def total(a: Floats, b: Floats) -> Floats:
        summed: Floats = np.multiply(a, b, out=product).sum(-1)
        return summed

    count, s_up, s_down = used.sum(-1), total(up, up), total(down, down)
    b_up, b_down = total(susceptance, up), total(susceptance, down)
    fitted = _quotient(b_up * s_down - b_down * count, s_up * s_down - count**2)
    near = freq_hz[-1] < _FAR_ABOVE * resonance_hz
    if near.any():
        down *= (2 * np.pi * resonance) ** 2
        up -= down
        fitted = np.where(near, _quotient(total(susceptance, up), total(up, up)), fitted)
    return np.where((count >= 3) & (fitted > 0), fitted, np.nan)


def _quotient(top: Floats, bottom: Floats) -> Floats:
    """Return top / bottom, NaN where the bottom is not positive (too few points for the fit)."""
    quotient: Floats = np.divide(top, bottom, out=np.full(np.shape(top), np.nan), where=bottom > 0)
    return quotient


def inductance_h(freq_hz: Floats, z_ohm: Complexes, resonance_hz: Floats, stray_f: Floats) -> Floats:
    """Return low-frequency inductance: the median of X/w over the lowest third of an octave.

    Points count where X > 0 and f is at most half the resonance; the stray capacitance, where known, is
    taken out first. At least three points are taken if there are as many. NaN with fewer than two.
    """
    sign = _sign_of_reactance(z_ohm.imag, np.abs(z_ohm))
    return _inductance_h(freq_hz, z_ohm, sign, resonance_hz, stray_f)


def _inductance_h(
    freq_hz: Floats, z_ohm: Complexes, sign: _Signs, resonance_hz: Floats, stray_f: Floats
) -> Floats:
    ceiling_hz = _ceiling_hz(resonance_hz)
    # nothing above the highest ceiling counts
    points = max(1, int(np.searchsorted(freq_hz, ceiling_hz.max(initial=0.0), "right")))
    freq_hz, z_ohm, sign = freq_hz[:points], z_ohm[..., :points], sign[..., :points]
    x = _without_stray(freq_hz, z_ohm, stray_f).imag
    used = _inductive(freq_hz, sign, ceiling_hz, x)
    behind: Bools = np.any(used.reshape(-1, points), axis=0)[::-1]
    points = max(1, points - int(np.argmax(behind)))
    x, used, omega = x[..., :points], used[..., :points], 2 * np.pi * freq_hz[:points]
    apparent = np.where(used, np.divide(x, omega, out=np.zeros_like(x), where=omega > 0), np.inf)
    count = used.sum(axis=-1)
    ordered = np.sort(apparent, axis=-1)
    middle = 0.5 * (_take(ordered, np.maximum(count - 1, 0) // 2) + _take(ordered, count // 2))
    return np.where(count >= 2, middle, np.nan)


def find_inductive_points(freq_hz: Floats, z_ohm: Complexes, resonance_hz: Floats, stray_f: Floats) -> Bools:
    """Return which points (..., F) `inductance_h` takes its median of."""
    sign = _sign_of_reactance(z_ohm.imag, np.abs(z_ohm))
    x = _without_stray(freq_hz, z_ohm, stray_f).imag
    return _inductive(freq_hz, sign, _ceiling_hz(resonance_hz), x)


def _ceiling_hz(resonance_hz: Floats) -> Floats:
    """Return up to where a point tells the inductance."""
    return np.where(np.isnan(resonance_hz), np.inf, resonance_hz) / _ROOM


def _inductive(freq_hz: Floats, sign: _Signs, ceiling_hz: Floats, x: Floats) -> Bools:
    """Return x: the reactance without the stray capacitance."""
    below = (freq_hz > 0) & (freq_hz <= np.expand_dims(ceiling_hz, -1))
    inductive = (x > 0) & (sign > 0) & below
    clear = inductive & (x >= _SMALLEST_OHM)
    return _lowest(freq_hz, np.where(clear.any(axis=-1, keepdims=True), clear, inductive))


def _without_stray(freq_hz: Floats, z_ohm: Complexes, stray_f: Floats) -> Complexes:
    stray = np.expand_dims(np.where(np.isnan(stray_f), 0.0, stray_f), -1)
    return divide_or_nan(z_ohm, 1 - 2j * np.pi * freq_hz * stray * z_ohm)


def _lowest(freq_hz: Floats, usable: Bools) -> Bools:
    first_hz = np.expand_dims(freq_hz[np.argmax(usable, axis=-1)], -1)
    lowest: Bools = usable & ((freq_hz <= _LOWEST * first_hz) | (np.cumsum(usable, axis=-1) <= 3))
    return lowest


def _take(values: Floats, at: _Indices) -> Floats:
    """Return values[..., at] row by row."""
    taken: Floats = np.take_along_axis(values, np.expand_dims(np.asarray(at), -1), axis=-1)[..., 0]
    return taken
