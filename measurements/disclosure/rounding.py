"""How coarsely the public sees: decibels in steps of 0.5, counts as bands.

At five devices a mean rounded to 0.1 dB beside an exact count gives a newcomer's figure to 0.16 dB; in
steps of 0.5 dB, with counts as bands, the same subtraction gives no more than a guess would.
"""

from __future__ import annotations

import numpy as np
from numpy.typing import ArrayLike, NDArray

STEP_DB = 0.5
_MANTISSAS = (1, 2, 5)


def coarse_db(values_db: ArrayLike) -> NDArray[np.float64]:
    """Values in dB to the nearest 0.5 dB, any shape; NaN stays NaN.

    A value exactly between two steps goes to the even number of steps (22.25 to 22.0, 22.75 to 23.0), so
    that ties are not pushed upwards, as a benchmark's friends would like. Doubling and halving are
    exact in binary, so nothing is rounded twice. Raises ValueError for an infinite value.
    """
    values = np.asarray(values_db, dtype=np.float64)
    if bool(np.any(np.isinf(values))):
        raise ValueError("An infinite value cannot be rounded.")
    # + 0.0 turns a negative zero into a plain one.
    rounded: NDArray[np.float64] = np.round(values / STEP_DB) * STEP_DB + 0.0
    return rounded


def round_db(value_db: float | None) -> float | None:
    """One figure as `coarse_db`; None stays None."""
    return None if value_db is None else float(coarse_db(value_db))


def coarse_count(counts: ArrayLike) -> NDArray[np.int64]:
    """The lower end of each count's band, any shape: what public lists are ordered by; 0 stays 0.

    Bands begin at 1, 2, 5, 10, 20, 50, 100 and so on. Raises ValueError for a negative count.
    """
    whole = np.asarray(counts, dtype=np.int64)
    if bool(np.any(whole < 0)):
        raise ValueError("A count is not negative.")
    most = int(whole.max(initial=1))
    starts = np.array([0, *_starts(most)], dtype=np.int64)
    found: NDArray[np.int64] = starts[np.searchsorted(starts, whole, side="right") - 1]
    return found


def count_band(count: int) -> str:
    """A count as the public sees it: "5-9", "10-19", "20-49", "50-99", "100-199" and so on.

    Raises ValueError under 2: a band of one says that there is one.
    """
    if count < 2:
        raise ValueError("A count under two is not shown, not even as a band.")
    starts = _starts(count * 10)
    place = next(index for index, start in enumerate(starts) if start > count)
    return f"{starts[place - 1]}-{starts[place] - 1}"


def _starts(most: int) -> list[int]:
    """1, 2, 5, 10, 20, 50 ... up to `most` and no further."""
    decades = range(len(str(most)))
    return [m * 10**d for d in decades for m in _MANTISSAS if m * 10**d <= most]
