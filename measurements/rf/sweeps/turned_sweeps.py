"""Two sweeps of an analyser that drives one port only, the second with the device turned round,
make one full two-port.

Forward, the device's port 1 is at the analyser's port 1: S11 and S21. Turned round, its port 2 is
there: what the analyser calls S11 and S21 are the device's S22 and S12.
"""

from __future__ import annotations

import numpy as np
import skrf

from measurements.errors import BenchnightError
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

SAME_GRID = 1e-6  # relative: rounding by an exporter, far below any step of a sweep
RECIPROCITY_DB = 0.2  # house default: below it S12 and S21 agree as well as hobby analysers repeat
REFLECTION_CHANGE = 0.02  # house default: |S11| or |S22| measured twice, about 34 dB below full scale


def turn_sweep(sweep: Sweep, *, field: str = "sweep") -> Sweep:
    """Return the sweep as if the device had been measured with its ports exchanged; two ports only.

    Turning twice gives the same sweep. Raises BenchnightError `sweep.ports`.
    """
    if sweep.ports != 2:
        raise _refusal("ports", "Only a two-port sweep can be turned round. Export both ports.", field)
    return Sweep(
        freq_hz=sweep.freq_hz,
        s=skrf.network.flip(sweep.s),
        z0_ohm=sweep.z0_ohm[::-1],
        measured=sweep.measured[::-1, ::-1],
        source=sweep.source,
        notes=sweep.notes,
        magnitude_only=sweep.magnitude_only,
    )


def merge_turned_sweeps(forward: Sweep, reversed_: Sweep, *, field: str = "sweep_reversed") -> Sweep:
    """Return a full two-port from a forward sweep and one with the device turned round.

    S11 and S21 come from `forward`, S22 and S12 from `reversed_`. Both must have S11 and S21
    measured, on the same grid, with the same references. Disagreements become notes with their size.

    Raises BenchnightError: sweep.ports, sweep.not_measured, sweep.grid_differs, sweep.no_overlap,
    sweep.reference_differs, sweep.not_turned.
    """
    back = turn_sweep(reversed_, field=field)
    turn_sweep(forward)  # refuses other port counts
    _check_measured(forward, "sweep")
    _check_measured(reversed_, field)
    _check_grids(forward.freq_hz, back.freq_hz, field)
    if not np.array_equal(forward.z0_ohm, back.z0_ohm):
        raise _refusal(
            "reference_differs",
            "The two sweeps have different reference resistances. Use one setting.",
            field,
        )
    if np.array_equal(forward.s[:, :, 0], reversed_.s[:, :, 0]):
        raise _refusal(
            "not_turned",
            "The two sweeps carry the same numbers: the same file twice, or the device was not turned "
            "round. Turn it and sweep again.",
            field,
        )
    s = np.stack([forward.s[:, :, 0], back.s[:, :, 1]], axis=2)
    return Sweep(
        freq_hz=forward.freq_hz,
        s=s,
        z0_ohm=forward.z0_ohm,
        measured=np.ones((2, 2), dtype=np.bool_),
        source="turned",
        notes=(
            *forward.notes,
            "Merged with the sweep of the device turned round.",
            *_disagreements(forward, back, s),
        ),
        magnitude_only=forward.magnitude_only or reversed_.magnitude_only,
    )


def _check_measured(sweep: Sweep, field: str) -> None:
    for row in (0, 1):
        sweep.column(row, 0, field=field)


def _check_grids(forward_hz: Floats, back_hz: Floats, field: str) -> None:
    if len(forward_hz) == len(back_hz) and np.allclose(forward_hz, back_hz, rtol=SAME_GRID, atol=0):
        return
    if forward_hz[-1] < back_hz[0] or back_hz[-1] < forward_hz[0]:
        raise _refusal(
            "no_overlap",
            "The two sweeps have no frequency in common. Sweep both ways with the same settings.",
            field,
        )
    raise _refusal(
        "grid_differs",
        f"The two sweeps have different frequencies ({_span(forward_hz)} and {_span(back_hz)}). "
        "Sweep both ways with the same start, stop and number of points.",
        field,
    )


def _span(freq_hz: Floats) -> str:
    return f"{len(freq_hz)} points from {freq_hz[0] / 1e6:g} to {freq_hz[-1] / 1e6:g} MHz"


def _disagreements(forward: Sweep, back: Sweep, s: Complexes) -> tuple[str, ...]:
    """Return sentences on what the two sweeps measured twice and differently."""
    notes = []
    gap_db, at = _largest_gap_db(s[:, 1, 0], s[:, 0, 1])
    if gap_db > RECIPROCITY_DB:
        notes.append(
            f"S21 and S12 differ by up to {gap_db:.2f} dB (at {forward.freq_hz[at] / 1e6:g} MHz): a device "
            "without amplifier gives both alike. Check clips and leads, and that nothing moved."
        )
    repeats = ((0, 0, "S11", back, forward), (1, 1, "S22", forward, back))
    for i, j, name, twice, once in repeats:
        if not twice.measured[i, j]:
            continue
        change = np.abs(twice.s[:, i, j] - once.s[:, i, j])
        if change.max() > REFLECTION_CHANGE:
            at = int(np.argmax(change))
            notes.append(
                f"{name} measured both ways differs by up to {change[at]:.3f} (at "
                f"{forward.freq_hz[at] / 1e6:g} MHz). Check clips and leads, and that nothing moved."
            )
    return tuple(notes)


def _largest_gap_db(one: Complexes, other: Complexes) -> tuple[float, int]:
    """Return the largest |20 log10(one/other)|, dB; infinite where either is zero."""
    sizes = np.abs(one), np.abs(other)
    gap_db = np.full(len(one), np.inf)
    gap_db[(sizes[0] == 0) & (sizes[1] == 0)] = 0.0
    both = (sizes[0] > 0) & (sizes[1] > 0)
    gap_db[both] = np.abs(20 * np.log10(sizes[0][both]) - 20 * np.log10(sizes[1][both]))
    at = int(np.argmax(gap_db))
    return float(gap_db[at]), at


def _refusal(code: str, detail: str, field: str = "sweep") -> BenchnightError:
    return BenchnightError(f"sweep.{code}", detail, field=field)
