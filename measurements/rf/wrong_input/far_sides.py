"""Far sides that were not ended as they were filed: open, short and load mixed up, or of another device.

Three reflections of one passive device make a passive two-port (`one_port`). With the load taken for the open
or the short, or with a sweep of another device among them, they make one that gives out more than it takes.
"""

from __future__ import annotations

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments.assumed_errors import AssumedErrors
from measurements.rf.loss.back_to_back import (
    estimate_load_alike,
    estimate_load_series_first,
    estimate_load_shunt_first,
)
from measurements.rf.loss.one_port import (
    FAR_SIDE_ROLES,
    find_nominal_reflection,
    reconstruct_two_port,
)
from measurements.rf.sweeps.sweep import Complexes, Floats

_SHARE = 0.2  # of the sweep that must be impossible: house default
_FITS = 0.9  # of the sweep that must be possible for an exchange to be named
_DIRECTIONS = np.exp(2j * np.pi * np.arange(8) / 8)
_UNLIKE = 0.05  # what two like devices may differ by, where the sweeps are of both
_FAR_FROM_MIRROR = 0.35  # median: what an uneven device's load reflection may be off what the mirror expects
_OFF_CIRCUIT = 0.015  # median: what leakage and capacitance in more than two places leave over (simulated)
_OPPOSITE_ENDS = 0.5  # of the way between the corners: leakage at one end, capacitance at the other
_LOADS = np.linspace(-1.0, 1.0, 5)  # of the tolerance
_OTHER_RATIO = 0.27  # half of S22 - S11: the ratio is off by a factor of 1.75


def compute_largest_gain(s: Complexes) -> Floats:
    """Return (F,) the largest singular value of S (F, 2, 2): 1 at most for a passive device (closed form)."""
    power = np.sum(np.abs(s) ** 2, axis=(1, 2))
    determinant = np.abs(s[:, 0, 0] * s[:, 1, 1] - s[:, 0, 1] * s[:, 1, 0])
    apart = np.sqrt(np.maximum(power**2 - 4 * determinant**2, 0.0))
    gain: Floats = np.sqrt((power + apart) / 2)
    return gain


def is_possible(far_open: Complexes, far_short: Complexes, far_load: Complexes, error: float) -> Floats:
    """Return (F,) 1.0 where three reflections, each known to `error`, can be those of one passive device."""

    def gain_of(*given: Complexes) -> Floats:
        return compute_largest_gain(reconstruct_two_port(*given))

    ends = (far_open, far_short, far_load)
    gain = gain_of(*ends)
    slack = np.zeros(gain.shape)
    for at in range(len(ends)):
        # finite moves, because near a resonance the error is not small
        moved = [gain_of(*ends[:at], ends[at] + error * turn, *ends[at + 1 :]) for turn in _DIRECTIONS]
        slack = slack + np.max(np.abs(np.array(moved) - gain), axis=0)
    return np.where(gain > 1 + slack, 0.0, 1.0)  # NaN compares as False: possible


def flag_far_sides(
    freq_hz: Floats, far_open: Complexes, far_short: Complexes, far_load: Complexes, errors: AssumedErrors
) -> tuple[Flag, ...]:
    """Return flag far-side sweeps (F,) of one device that do not belong together, and say which exchange
    would.
    """
    error = float(errors.bound_reflection(np.ones(1))[0]) + errors.noise
    ends = (far_open, far_short, far_load)
    if is_possible(*ends, error).mean() >= 1 - _SHARE:
        return _flag_open_for_short(freq_hz, far_open, far_short)
    for first, second in ((0, 2), (1, 2)):
        tried = list(ends)
        tried[first], tried[second] = tried[second], tried[first]
        if is_possible(tried[0], tried[1], tried[2], error).mean() >= _FITS:
            exchange = f"They fit if {FAR_SIDE_ROLES[first]} and {FAR_SIDE_ROLES[second]} are exchanged."
            return (build_flag("far_sides_mixed", exchange=exchange),)
    exchange = "No exchange of them fits either: one may be of another device."
    return (build_flag("far_sides_mixed", exchange=exchange),)


def measure_off_circuit(far_open: Complexes, far_short: Complexes, far_load: Complexes) -> float:
    """Measure how far a loaded reflection lies from those that the open and the short allow (median).

    With leakage and capacitance at either end, or split alike, the three corners follow in closed form
    (`loss.back_to_back`). A device lies on the lines between them, or half as far beside them as the corners
    lie apart, where leakage and capacitance have opposite ends (simulated).
    """
    first = estimate_load_series_first(far_open, far_short)
    last = estimate_load_shunt_first(far_open, far_short)
    # the even split, from the mirror of a pair whose ends these are
    middle = estimate_load_alike((far_open + far_short) / 2, (far_open - far_short) / 2)
    off = np.min([_measure_to_line(far_load, *ends) for ends in ((first, middle), (middle, last))], axis=0)
    off = np.maximum(off - _OPPOSITE_ENDS * np.abs(first - last), 0.0)
    known = off[np.isfinite(off)]
    return float(np.median(known)) if known.size else 0.0


def _measure_to_line(point: Complexes, start: Complexes, end: Complexes) -> Floats:
    """Measure the distance (F,) of points of the complex plane from the straight lines between two others."""
    along = end - start
    size = np.maximum(np.abs(along) ** 2, 1e-24)
    share = np.clip(((point - start) * np.conj(along)).real / size, 0.0, 1.0)
    distance: Floats = np.abs(point - start - share * along)
    return distance


def flag_off_circuit(
    far_open: Complexes,
    far_short: Complexes,
    far_load: Complexes,
    errors: AssumedErrors,
    load_share: float,
    tolerance: float,
) -> tuple[Flag, ...]:
    """Return flag three far sides (F,) that no circuit of one transformer explains, whatever the load may be.

    load_share: of the load over the nominal one, known to `tolerance` (relative).
    """
    off = [
        measure_off_circuit(
            far_open, far_short, find_nominal_reflection(far_open, far_short, far_load, load_share * (1 + by))
        )
        for by in tolerance * _LOADS
    ]
    if min(off) <= _OFF_CIRCUIT + errors.reflection:
        return ()
    exchange = "No exchange of them fits either: one may be of another device, or its load is another."
    return (build_flag("far_sides_mixed", exchange=exchange),)


def _flag_open_for_short(freq_hz: Floats, far_open: Complexes, far_short: Complexes) -> tuple[Flag, ...]:
    """Return at the low end, where a device is short beside the wave, its open reads higher than its
    short.
    """
    low = freq_hz <= np.sqrt(max(float(freq_hz[0]), 1.0) * freq_hz[-1])
    if float(np.median((far_open - far_short).real[low])) >= 0:
        return ()
    exchange = "They fit if far_open and far_short are exchanged."
    return (build_flag("far_sides_mixed", exchange=exchange),)


def flag_foreign_far_load(
    pair_s11: Complexes, pair_s21: Complexes, far_load: Complexes, errors: AssumedErrors
) -> tuple[Flag, ...]:
    """Return flag a far_load sweep that cannot be of a device of the pair: its ends by the mirror, (F,)
    each.
    """
    error = float(errors.bound_reflection(np.ones(1))[0]) + errors.port2_match + _UNLIKE
    possible = is_possible(pair_s11 + pair_s21, pair_s11 - pair_s21, far_load, error)
    expected = estimate_load_alike(pair_s11, pair_s21)
    off = np.abs(far_load - expected)
    known = off[np.isfinite(off)]
    is_off = known.size > 0 and float(np.median(known)) > _FAR_FROM_MIRROR + errors.port2_match
    if possible.mean() >= 1 - _SHARE and not is_off:
        return ()
    return (build_flag("far_load_foreign"),)


def flag_other_ratio(s: Complexes, ratio: float) -> tuple[Flag, ...]:
    """Return flag a two-port (F, 2, 2), referred to 50 ohm and its nominal load, that has another ratio.

    A shunt or a series impedance reflects alike at both ends, so the difference S22 - S11 shows the ratio
    alone: an ideal n:1 referred to r:1 has S11 = (r - n)/(r + n) = -S22 (closed form).
    """
    half = (s[:, 1, 1] - s[:, 0, 0]).real / 2
    known = half[np.isfinite(half)]
    off = float(np.median(known)) if known.size else 0.0
    if abs(off) < _OTHER_RATIO:
        return ()
    off = min(max(off, -0.98), 0.98)
    fits = ratio * (1 + off) / (1 - off)
    return (build_flag("ratio_contradicted", fits=f"{fits:.2g}", ratio=f"{ratio:g}"),)
