"""What a method may ask of the sweeps and resistors it works with: one grid, one reference, phase, ohms.

Each question either gives the value or says which input is at fault and what to do.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import isfinite

import numpy as np

from measurements.errors import BenchnightError

from .flags import Flag, flag
from .request import Request
from .settings import NOMINAL_OHM
from .sweep import Complexes, Sweep

SAME_FREQUENCY = 1e-6  # relative; files print six digits or more


def together(request: Request, roles: Sequence[str]) -> list[Sweep]:
    """The sweeps of `roles`, which must share frequencies and references.

    Raises BenchnightError `sweep.missing`, `sweep.grid_differs` or `sweep.reference_differs`, naming the
    role.
    """
    first = request.sweep(roles[0])
    found = [request.sweep(role) for role in roles]
    for role, sweep in zip(roles[1:], found[1:], strict=True):
        if sweep.points != first.points or not np.allclose(
            sweep.freq_hz, first.freq_hz, rtol=SAME_FREQUENCY, atol=0
        ):
            raise BenchnightError(
                "sweep.grid_differs",
                f"{role} was not swept at the same frequencies as {roles[0]}. These sweeps are computed "
                f"with each other point by point: repeat them with one start, stop and number of points.",
                field=role,
            )
        if not np.allclose(sweep.z0_ohm, first.z0_ohm[0]) or not np.allclose(first.z0_ohm, first.z0_ohm[0]):
            raise BenchnightError(
                "sweep.reference_differs",
                f"{role} and {roles[0]} do not all refer to one impedance. Export all of them with the same "
                "reference at every port, 50 ohm.",
                field=role,
            )
    return found


def complex_column(sweep: Sweep, i: int, j: int, role: str) -> Complexes:
    """S(i+1)(j+1) of a sweep whose phase is known; BenchnightError `sweep.phase_needed` otherwise."""
    if sweep.magnitude_only:
        raise BenchnightError(
            "sweep.phase_needed",
            f"{role} holds magnitudes without phase, and this method cannot do without. Save the sweep as "
            "Touchstone, or as CSV with real and imaginary part.",
            field=role,
        )
    return sweep.column(i, j, field=role)


def reciprocal_column(sweep: Sweep, role: str) -> Complexes:
    """S21 of a two-port with known phase, averaged with S12 where that was measured too."""
    forward = complex_column(sweep, 1, 0, role)
    return 0.5 * (forward + sweep.s[:, 0, 1]) if sweep.measured[0, 1] else forward


def nominal_load_ohm(request: Request) -> float:
    """ratio x 50 ohm."""
    return float(request.ratio) * NOMINAL_OHM


def load_ohm(request: Request) -> tuple[float, tuple[Flag, ...]]:
    """The load as measured; the nominal one with a flag where nobody measured it."""
    if request.load_ohm is None:
        nominal = nominal_load_ohm(request)
        return nominal, (flag("load_assumed", nominal_ohm=f"{nominal:g}"),)
    return _positive(request.load_ohm, "load_ohm"), ()


def series_ohm(request: Request) -> tuple[float, tuple[Flag, ...]]:
    """The series resistor as measured; (ratio-1) x 50 ohm with a flag where nobody measured it.

    Raises BenchnightError `insertion_loss.series_ratio` for a ratio below 1, where there is none.
    """
    nominal = nominal_load_ohm(request) - NOMINAL_OHM
    if nominal < 0:
        raise BenchnightError(
            "insertion_loss.series_ratio",
            "A series resistor can only add to 50 ohm, and this device steps down. Connect it the other way "
            "round and give the ratio as above 1:1, or choose another method.",
            field="ratio",
        )
    if request.series_ohm is None:
        assumed = (flag("series_assumed", nominal_ohm=f"{nominal:g}"),) if nominal > 0 else ()
        return nominal, assumed
    return _positive(request.series_ohm, "series_ohm", allow_zero=True), ()


def _positive(value: float, name: str, *, allow_zero: bool = False) -> float:
    if not isfinite(value) or value < 0 or (value == 0 and not allow_zero):
        raise BenchnightError(
            f"insertion_loss.{name}",
            f"{name} is {value:g}; a resistor's value as measured, in ohm, belongs here.",
            field=name,
        )
    return value
