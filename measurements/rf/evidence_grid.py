"""The one frequency grid of all evidence: a curve on it no longer tells whose sweep it was."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from measurements.rf.sweeps.sweep import Complexes, Floats

GRID_HZ: Floats = np.geomspace(1e6, 54e6, 97)
GRID_HZ.setflags(write=False)


@dataclass(frozen=True)
class EvidenceCurve:
    """Zcm on `GRID_HZ`, complex64 (97,), NaN where the sweep does not reach."""

    z_ohm: npt.NDArray[np.complex64]

    @classmethod
    def of(cls, freq_hz: Floats, z_ohm: Complexes) -> EvidenceCurve:
        """Return the curve of one sweep, (F,) each; what single precision cannot hold is as undefined as an
        open.
        """
        return cls(to_single_precision(resample_to_grid(freq_hz, z_ohm)))


# kind -> the curves that a test of it leaves on the grid, in this order; common_mode leaves its impedance
FIGURE_CURVES: dict[str, tuple[str, ...]] = {
    "insertion_loss": ("loss_db", "dissipative_db"),
    "load_match": ("swr",),
}


@dataclass(frozen=True)
class FigureCurves:
    """Figures on `GRID_HZ`, float32 (Q, 97) in the order of `FIGURE_CURVES`; NaN where there is none."""

    values: npt.NDArray[np.float32]

    @classmethod
    def of(cls, kind: str, freq_hz: Floats, traces: Mapping[str, Floats]) -> FigureCurves:
        """Return the curves of one sweep, (F,) each; a curve that the method cannot know is NaN throughout.

        An endless figure, such as the SWR of an open, is as undefined as one that was not measured.
        """
        nothing = np.full(np.shape(freq_hz), np.nan)
        rows = []
        for name in FIGURE_CURVES[kind]:
            values = np.asarray(traces.get(name, nothing), dtype=np.float64)
            finite = np.where(np.isfinite(values), values, np.nan)
            rows.append(resample_to_grid(freq_hz, finite.astype(np.complex128)).real)
        return cls(np.array(rows).astype(np.float32))


def to_single_precision(z_ohm: Complexes) -> npt.NDArray[np.complex64]:
    """Return the curve as it is stored (..., 97): NaN where single precision cannot hold the value."""
    holds = np.abs(z_ohm) < np.finfo(np.float32).max  # False where NaN
    return np.where(holds, z_ohm, complex(np.nan, np.nan)).astype(np.complex64)


def resample_to_grid(freq_hz: Floats, z_ohm: Complexes) -> Complexes:
    """Return `z_ohm` on `GRID_HZ`, linear in frequency between neighbours, NaN outside the sweep.

    freq_hz (F,) rising; z_ohm (F,) or (..., F). Returns (97,) or (..., 97). A NaN point makes
    the two intervals that touch it NaN; nothing is bridged and nothing extrapolated.
    """
    freq = np.asarray(freq_hz, dtype=np.float64)
    values = np.asarray(z_ohm, dtype=np.complex128)
    upper = np.clip(np.searchsorted(freq, GRID_HZ, side="right"), 1, max(freq.size - 1, 1))
    upper = np.minimum(upper, freq.size - 1)
    lower = np.maximum(upper - 1, 0)
    step_hz = freq[upper] - freq[lower]
    weight = np.divide(GRID_HZ - freq[lower], step_hz, out=np.zeros(GRID_HZ.size), where=step_hz > 0)
    blended = values[..., lower] * (1 - weight) + values[..., upper] * weight
    # A grid point that is a measured point takes that point alone, even beside a NaN neighbour.
    blended = np.where(weight == 0, values[..., lower], blended)
    blended = np.where(weight == 1, values[..., upper], blended)
    inside = (freq[0] <= GRID_HZ) & (freq[-1] >= GRID_HZ)
    return np.where(inside, blended, complex(np.nan, np.nan))
