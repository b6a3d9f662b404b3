"""Figures of a whole common-mode sweep: span, resonance, peak, inductance, stray capacitance.

Everything takes (..., F) arrays on one frequency list and answers (...) arrays, so that many sweeps of one
grid go through at once. NaN means that the figure does not exist.
"""

from __future__ import annotations

import numpy as np

from .sweep import Bools, Complexes, Floats
from .two_port import divided

_Indices = np.ndarray[tuple[int, ...], np.dtype[np.intp]]
_ROUNDING = 1e-9  # a reactance this small beside |Z| is rounding, not inductive or capacitive
_WINDOW = 0.5 * np.log(2.0)  # half an octave on either side of a resonance decides whether it is one
_ROOM = 2.0  # "well below resonance": at most half of it, after the stray capacitance is taken out
_FAR_ABOVE = 1.5  # a sweep that ends lower cannot tell the capacitance from what is left of the winding
_LOWEST = 2.0 ** (1 / 3)  # the lowest third of an octave: above it a ferrite's permeability falls
_SMALLEST_OHM = 5.0  # below this a series reactance drowns in the error of a 50-ohm S21


def widest_span(freq_hz: Floats, through: Complexes, benchmark_db: float) -> tuple[float, float] | None:
    """`widest_spans` of one sweep (F,), or None where there is none."""
    start, stop = widest_spans(freq_hz, through[None, :], benchmark_db)[0].tolist()
    return None if start != start else (start, stop)


def widest_spans(freq_hz: Floats, through: Complexes, benchmark_db: float) -> Floats:
    """The widest unbroken spans (N, 2) in Hz with |through| <= -benchmark_db; NaN where there is none.

    Ends between two points are where the complex chord between them crosses the limit, exactly; of two
    spans of one width the lower counts. freq_hz: (F,). through: (N, F).
    """
    limit = 10.0 ** (-benchmark_db / 20.0)
    meets = np.abs(through) <= limit  # False where NaN
    outside = np.zeros((len(through), 1), dtype=np.bool_)
    edges = np.diff(np.concatenate([outside, meets, outside], axis=1).astype(np.int8), axis=1)
    row, first = np.nonzero(edges == 1)
    last = np.nonzero(edges == -1)[1] - 1
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
    """Frequencies between points within the limit and their neighbours outside it."""
    a, b = through[row, inner], through[row, outer]
    known = np.isfinite(b)
    step = np.where(known, b - a, 1.0)
    # |a + t step|^2 = limit^2 with |a| <= limit < |b|: one root in [0, 1).
    square, half, rest = np.abs(step) ** 2, (a * np.conj(step)).real, np.abs(a) ** 2 - limit**2
    t = (-half + np.sqrt(np.maximum(half**2 - square * rest, 0.0))) / square
    crossing: Floats = freq_hz[inner] + np.where(known, t, 0.0) * (freq_hz[outer] - freq_hz[inner])
    return crossing


def self_resonance_hz(freq_hz: Floats, z_ohm: Complexes) -> Floats:
    """Where X passes through zero from + to -, interpolated: the lowest one that noise does not explain.

    A crossing counts by the share of inductive points half an octave below and of capacitive ones half
    an octave above it; among the crossings of one noisy passage the best-supported is taken.
    """
    sign = _sign_of_reactance(z_ohm)
    support = _support(freq_hz, sign)
    crosses = (sign[..., :-1] > 0) & (sign[..., 1:] <= 0)
    score = np.where(crosses, support, -1.0)
    best = score.max(axis=-1, keepdims=True, initial=-1.0)
    eligible = (score > 0.5) & (score >= 0.8 * best)
    if not eligible.size:
        return np.full(z_ohm.shape[:-1], np.nan)
    lowest_hz = freq_hz[:-1][np.argmax(eligible, axis=-1)]
    passage = eligible & (freq_hz[:-1] <= np.expand_dims(lowest_hz, -1) * np.sqrt(2.0))
    at = np.argmax(np.where(passage, score, -1.0), axis=-1)
    x = z_ohm.imag
    before, after = _take(x, at), _take(x, at + 1)
    share = np.divide(before, before - after, out=np.zeros(before.shape), where=before != after)
    found: Floats = freq_hz[at] + share * (freq_hz[at + 1] - freq_hz[at])
    return np.where(eligible.any(axis=-1), found, np.nan)


def _sign_of_reactance(z_ohm: Complexes) -> Floats:
    """+1 inductive, -1 capacitive, 0 where neither (rounding) or undefined."""
    x, least = z_ohm.imag, _ROUNDING * np.abs(z_ohm)  # False where NaN
    return (x > least).astype(np.float64) - (x < -least)


def _support(freq_hz: Floats, sign: Floats) -> Floats:
    """For each interval between two points: mean sign below it minus mean sign above it, halved."""
    total = np.concatenate([np.zeros((*sign.shape[:-1], 1)), np.cumsum(sign, axis=-1)], axis=-1)
    position = np.log(np.maximum(freq_hz, 1.0))
    middle = np.arange(1, freq_hz.size)
    low = np.minimum(np.searchsorted(position, position[:-1] - _WINDOW), middle - 1)
    high = np.maximum(np.searchsorted(position, position[1:] + _WINDOW, "right"), middle + 1)
    below = (total[..., middle] - total[..., low]) / (middle - low)
    above = (total[..., high] - total[..., middle]) / (high - middle)
    support: Floats = 0.5 * (below - above)
    return support


def peak(freq_hz: Floats, z_ohm: Complexes) -> tuple[Floats, Floats]:
    """Largest |Zcm| and its frequency; NaN where no point is defined."""
    size = np.abs(z_ohm)
    defined = ~np.isnan(size)
    at = np.argmax(np.where(defined, size, -1.0), axis=-1)
    any_defined = defined.any(axis=-1)
    return np.where(any_defined, _take(size, at), np.nan), np.where(any_defined, freq_hz[at], np.nan)


def stray_capacitance_f(freq_hz: Floats, z_ohm: Complexes, resonance_hz: Floats) -> Floats:
    """Capacitance in parallel with the winding that fits the capacitive points above resonance.

    Least squares of Im(1/Z) = w C - G/w, where G/w stands for what is left of the winding itself. Where the
    sweep ends less than half as high again as the resonance wr, G is taken from it: G = wr^2 C.
    NaN without a resonance, with fewer than three points, or where the fit is not positive.
    """
    omega = 2 * np.pi * freq_hz
    resonance = np.expand_dims(resonance_hz, -1)
    used = (freq_hz >= resonance) & (_sign_of_reactance(z_ohm) < 0) & (freq_hz > 0)  # False where NaN
    susceptance = np.where(used, divided(1.0, z_ohm).imag, 0.0)
    up = np.where(used, omega, 0.0)
    down = np.where(used, np.divide(1.0, omega, out=np.zeros_like(omega), where=omega > 0), 0.0)
    pinned_up = up - np.where(used, (2 * np.pi * resonance) ** 2, 0.0) * down
    alone = _quotient((susceptance * pinned_up).sum(-1), (pinned_up**2).sum(-1))
    count, s_up, s_down = used.sum(-1), (up**2).sum(-1), (down**2).sum(-1)
    b_up, b_down = (susceptance * up).sum(-1), (susceptance * down).sum(-1)
    both = _quotient(b_up * s_down - b_down * count, s_up * s_down - count**2)
    fitted = np.where(freq_hz[-1] >= _FAR_ABOVE * resonance_hz, both, alone)
    return np.where((count >= 3) & (fitted > 0), fitted, np.nan)


def _quotient(top: Floats, bottom: Floats) -> Floats:
    """top / bottom, NaN where the bottom is not positive (too few points for the fit)."""
    quotient: Floats = np.divide(top, bottom, out=np.full(np.shape(top), np.nan), where=bottom > 0)
    return quotient


def inductance_h(freq_hz: Floats, z_ohm: Complexes, resonance_hz: Floats, stray_f: Floats) -> Floats:
    """Low-frequency inductance: the median of X/w over the lowest third of an octave.

    Points count where X > 0 and f is at most half the resonance; the stray capacitance, where known, is
    taken out first. At least three points are taken if there are as many. NaN with fewer than two.
    """
    omega = 2 * np.pi * freq_hz
    x = _without_stray(freq_hz, z_ohm, stray_f).imag
    used = _inductive(freq_hz, z_ohm, resonance_hz, x)
    apparent = np.where(used, np.divide(x, omega, out=np.zeros_like(x), where=omega > 0), np.inf)
    count = used.sum(axis=-1)
    ordered = np.sort(apparent, axis=-1)
    middle = 0.5 * (_take(ordered, np.maximum(count - 1, 0) // 2) + _take(ordered, count // 2))
    return np.where(count >= 2, middle, np.nan)


def inductive_points(freq_hz: Floats, z_ohm: Complexes, resonance_hz: Floats, stray_f: Floats) -> Bools:
    """Which points (..., F) `inductance_h` takes its median of."""
    return _inductive(freq_hz, z_ohm, resonance_hz, _without_stray(freq_hz, z_ohm, stray_f).imag)


def _inductive(freq_hz: Floats, z_ohm: Complexes, resonance_hz: Floats, x: Floats) -> Bools:
    """x: the reactance without the stray capacitance."""
    ceiling = np.expand_dims(np.where(np.isnan(resonance_hz), np.inf, resonance_hz), -1) / _ROOM
    inductive = (x > 0) & (_sign_of_reactance(z_ohm) > 0) & (freq_hz > 0) & (freq_hz <= ceiling)
    clear = inductive & (x >= _SMALLEST_OHM)
    return _lowest(freq_hz, np.where(clear.any(axis=-1, keepdims=True), clear, inductive))


def _without_stray(freq_hz: Floats, z_ohm: Complexes, stray_f: Floats) -> Complexes:
    stray = np.expand_dims(np.where(np.isnan(stray_f), 0.0, stray_f), -1)
    return divided(z_ohm, 1 - 2j * np.pi * freq_hz * stray * z_ohm)


def _lowest(freq_hz: Floats, usable: Bools) -> Bools:
    first_hz = np.expand_dims(freq_hz[np.argmax(usable, axis=-1)], -1)
    lowest: Bools = usable & ((freq_hz <= _LOWEST * first_hz) | (np.cumsum(usable, axis=-1) <= 3))
    return lowest


def _take(values: Floats, at: _Indices) -> Floats:
    """values[..., at] row by row."""
    taken: Floats = np.take_along_axis(values, np.expand_dims(np.asarray(at), -1), axis=-1)[..., 0]
    return taken
