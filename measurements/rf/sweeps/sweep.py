"""The one data type of this room: a swept measurement.

F points, P ports. `s[:, i, j]` is S(i+1)(j+1): what leaves port i+1 when port j+1 is driven.
A column that was not measured still has numbers in `s` (zeros, or the copies the file carried):
`measured` says which may be used, and `column()` refuses the others.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.errors import BenchnightError

Floats = NDArray[np.float64]
Complexes = NDArray[np.complex128]
Bools = NDArray[np.bool_]


@dataclass(frozen=True, eq=False)
class Sweep:
    """Frequency list and S-parameters as read, with what is known about them.

    freq_hz: (F,) float64, rising, finite, not negative.
    s: (F, P, P) complex128, finite everywhere.
    z0_ohm: (P,) float64, positive: the real reference of each port.
    measured: (P, P) bool; False marks a column that must not be used.
    source: "touchstone", "csv", "turned", ...
    notes: plain sentences on how the file was interpreted.
    magnitude_only: the phase is unknown (a column of SWR, return loss or decibels alone); `s` then
        holds magnitudes as positive real numbers, and no impedance may be computed from them.

    The arrays are read-only views; nobody changes a sweep, they make another.
    Raises ValueError where the shapes do not fit together: a mistake of the caller, not of a user.
    """

    freq_hz: Floats
    s: Complexes
    z0_ohm: Floats
    measured: Bools
    source: str = "touchstone"
    notes: tuple[str, ...] = ()
    magnitude_only: bool = False

    def __post_init__(self) -> None:
        freq_hz = _frozen(self.freq_hz, np.float64)
        s = _frozen(self.s, np.complex128)
        z0_ohm = _frozen(self.z0_ohm, np.float64)
        measured = _frozen(self.measured, np.bool_)
        ports = s.shape[-1] if s.ndim == 3 else 0
        if freq_hz.ndim != 1 or s.shape != (len(freq_hz), ports, ports) or ports == 0:
            raise ValueError(f"freq_hz {freq_hz.shape} and s {s.shape} do not fit together")
        if z0_ohm.shape != (ports,) or measured.shape != (ports, ports):
            raise ValueError(f"z0_ohm {z0_ohm.shape} or measured {measured.shape} is not for {ports} ports")
        for name, array in (("freq_hz", freq_hz), ("s", s), ("z0_ohm", z0_ohm), ("measured", measured)):
            object.__setattr__(self, name, array)

    @property
    def ports(self) -> int:
        """Return P, 1 to 4."""
        return int(self.s.shape[1])

    @property
    def points(self) -> int:
        """Return F."""
        return int(self.freq_hz.shape[0])

    def column(self, i: int, j: int, *, field: str = "sweep") -> Complexes:
        """Return S(i+1)(j+1) over frequency, (F,) complex; i and j count from 0.

        Raises BenchnightError `sweep.not_measured` where the sweep has no such column.
        """
        if i >= self.ports or j >= self.ports or not self.measured[i, j]:
            raise BenchnightError(
                "sweep.not_measured",
                f"S{i + 1}{j + 1} was not measured in this sweep. Measure it: sweep again with the device "
                "turned round if the analyser drives one port only.",
                field=field,
            )
        column: Complexes = self.s[:, i, j]
        return column

    def without(self, i: int, j: int) -> Sweep:
        """Return the same sweep with S(i+1)(j+1) marked as not measured; i and j count from 0."""
        measured = self.measured.copy()
        measured[i, j] = False
        return replace(self, measured=measured)

    def noted(self, *sentences: str) -> Sweep:
        """Return the same sweep with these sentences added to its notes."""
        return replace(self, notes=self.notes + sentences)


def _frozen(array: NDArray[Any], dtype: type) -> NDArray[Any]:
    """Return a read-only view (a copy only where the type differs); the caller's array stays writable."""
    view: NDArray[Any] = np.asarray(array, dtype=dtype).view()
    view.flags.writeable = False
    return view
