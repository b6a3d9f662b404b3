"""How coarsely figures leave: in steps by metric, finer from ten persons on; counts of the public as bands.

One table of steps serves pages, replies, charts and files, so that none of them says more than another.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

# metric -> step below `detail_min_contributors` persons, and from so many on (house defaults)
STEPS: dict[str, tuple[float, float]] = {
    "rejection_db": (1.0, 0.5),
    "loss_db": (0.1, 0.05),
    "swr": (0.05, 0.02),
}

_COUNT_MANTISSAS = (1, 2, 5)


def get_step(metric: str, *, detailed: bool) -> float:
    """Return the step of a metric in its unit. KeyError for a metric that is not published."""
    return STEPS[metric][int(detailed)]


def round_figures(values: ArrayLike, metric: str, detailed: ArrayLike) -> NDArray[np.float64]:
    """Round values to the steps of their metric, any shape; NaN stays NaN.

    detailed: whether enough persons stand behind each for the finer step; broadcast against `values`.
    A value exactly between two steps goes to the even number of steps (22.5 to 22, 23.5 to 24), so that ties
    are not pushed upwards. Raises ValueError for an infinite value.
    """
    exact = np.asarray(values, dtype=np.float64)
    if bool(np.any(np.isinf(exact))):
        raise ValueError("An infinite value cannot be rounded.")
    coarse, fine = STEPS[metric]
    step = np.where(np.asarray(detailed, dtype=bool), fine, coarse)
    # the second rounding takes away the hair that a multiple of 0.05 is off; + 0.0 makes -0.0 a plain zero
    rounded: NDArray[np.float64] = np.round(np.round(exact / step) * step, 6) + 0.0
    return rounded


def round_figure(value: float | None, metric: str, *, detailed: bool) -> float | None:
    """Round one figure as `round_figures` does; None stays None."""
    return None if value is None else float(round_figures(value, metric, detailed))


REFERENCE_OHM = 50.0


def round_phase(phase_rad: ArrayLike, detailed: ArrayLike) -> NDArray[np.float64]:
    """Round a phase, rad, to 7.2 degrees, half of it where `detailed`: across, what a step in dB is along."""
    coarse, fine = (2 * np.pi / 50 * step_db for step_db in STEPS["rejection_db"])
    step_rad = np.where(np.asarray(detailed, dtype=bool), fine, coarse)
    rounded: NDArray[np.float64] = np.round(np.asarray(phase_rad, dtype=np.float64) / step_rad) * step_rad
    return rounded


def build_impedances(rejection_db: ArrayLike, phase_rad: ArrayLike) -> NDArray[np.complex128]:
    """Build the impedances, ohm, that show this rejection in a 50-ohm system and have this phase.

    Made of rounded figures they say what these say and no more. They solve |1 + Z/100| = 10^(rejection/20)
    (the series impedance of CISPR 17); NaN where nothing does.
    """
    ratio = 10 ** (np.asarray(rejection_db, dtype=np.float64) / 20)
    phase = np.asarray(phase_rad, dtype=np.float64)
    with np.errstate(invalid="ignore"):
        size = -np.cos(phase) + np.sqrt(np.cos(phase) ** 2 + ratio**2 - 1)
        size = np.where(size >= 0, size, np.nan)
    z_ohm: NDArray[np.complex128] = 2 * REFERENCE_OHM * size * np.exp(1j * phase)
    return z_ohm


def coarsen_counts(counts: ArrayLike) -> NDArray[np.int64]:
    """Give the lower end of each count's band, any shape: what public lists are ordered by; 0 stays 0.

    Bands begin at 1, 2, 5, 10, 20, 50, 100 and so on. Raises ValueError for a negative count.
    """
    whole = np.asarray(counts, dtype=np.int64)
    if bool(np.any(whole < 0)):
        raise ValueError("A count is not negative.")
    most = int(whole.max(initial=1))
    starts = np.array([0, *_list_count_starts(most)], dtype=np.int64)
    found: NDArray[np.int64] = starts[np.searchsorted(starts, whole, side="right") - 1]
    return found


def format_count_band(count: int) -> str:
    """Format a count as the public sees it: "5-9", "10-19", "20-49", "50-99", "100-199" and so on.

    Raises ValueError under 2: a band of one says that there is one.
    """
    if count < 2:
        raise ValueError("A count under two is not shown, not even as a band.")
    starts = _list_count_starts(count * 10)
    place = next(index for index, start in enumerate(starts) if start > count)
    return f"{starts[place - 1]}-{starts[place] - 1}"


def _list_count_starts(most: int) -> list[int]:
    """List 1, 2, 5, 10, 20, 50 ... up to `most` and no further."""
    decades = range(len(str(most)))
    return [m * 10**d for d in decades for m in _COUNT_MANTISSAS if m * 10**d <= most]
