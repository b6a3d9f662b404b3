"""Files that are not what they seem: numbers under another option, one sweep under two names."""

from __future__ import annotations

from collections.abc import Mapping

import numpy as np

from measurements.rf.flags import Flag, build_flag
from measurements.rf.sweeps.sweep import Sweep

_ABSURD = 2.0  # |S|: no residual error of a bench makes 1 into it
_ABSURD_SHARE = 0.1
_PARTS_AS_DEGREES = 1.0  # an imaginary part read as an angle
_LEAST_POINTS = 20  # few points, or flat ones, may agree by chance


def flag_numbers_beyond_range(sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """Return values that no passive device has by far: decibels or degrees read as something else."""
    size = np.abs(sweep.s[:, sweep.measured])
    if (size > _ABSURD).any(axis=1).mean() < _ABSURD_SHARE:
        return ()
    return (build_flag("numbers_beyond_range", role=role, largest=f"{size.max():.3g}"),)


def flag_phase_too_small(sweep: Sweep, role: str) -> tuple[Flag, ...]:
    """Return a sweep whose phase stays within a degree throughout: parts read as magnitude and angle.

    Real and imaginary parts up to 1, taken for magnitudes and degrees, turn by one degree at most. A device
    turns by more somewhere, and a reflection near zero in any direction. Numbers that are all real say
    nothing.
    """
    if sweep.magnitude_only or sweep.points < _LEAST_POINTS:
        return ()
    values = sweep.s[:, sweep.measured]
    turned = np.abs(np.angle(values, deg=True))
    if (values != 0).mean() < 1 - _ABSURD_SHARE or turned.max(initial=0.0) > _PARTS_AS_DEGREES:
        return ()
    if np.median(turned) == 0:
        return ()
    return (build_flag("phase_too_small", role=role, largest=f"{turned.max():.2f}"),)


def flag_same_numbers(sweeps: Mapping[str, Sweep]) -> tuple[Flag, ...]:
    """Return two files of one test that hold the same numbers, bit for bit: one was sent twice."""
    found: list[Flag] = []
    seen: list[tuple[str, Sweep]] = []
    for role, sweep in sweeps.items():
        twin = next((name for name, other in seen if _are_the_same(sweep, other)), None)
        if twin is not None:
            found.append(build_flag("same_file_twice", first=twin, second=role))
        seen.append((role, sweep))
    return tuple(found)


def _are_the_same(one: Sweep, other: Sweep) -> bool:
    if one.points < _LEAST_POINTS or one.s.shape != other.s.shape or not one.s.any():
        return False
    varies = bool((one.s != one.s[:1]).any())
    return varies and np.array_equal(one.freq_hz, other.freq_hz) and np.array_equal(one.s, other.s)
