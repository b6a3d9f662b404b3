"""Words for a check standard that is out of control: what moved, and what to look at first.

Which bands moved, and which way, points somewhere and proves nothing, so each sentence says "look at". From
how a series impedance between two ports behaves: calibration and cables move all bands alike; stray
capacitance and leads of a jig grow with frequency; a ferrite's permeability, and with it its temperature or
a crack, shows at the low end. Common practice, no source.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
import numpy.typing as npt

from measurements.verdict.control_chart import FloatArray, Limits

UNITS = {"rejection_db": "dB", "swr": "", "loss_db": "dB"}
DIGITS = {"rejection_db": 1, "swr": 2, "loss_db": 2}
WORDS = {"rejection_db": "rejection", "swr": "SWR", "loss_db": "loss"}
MOST_BANDS_NAMED = 3

SWEEP_AGAIN = (
    "Sweep the check standard again before anything else: a clip that sat badly is the usual reason."
)
ALL_BANDS = (
    "Every band moved the same way. Look at the calibration first, then at cables, connectors and the "
    "analyser's warm-up."
)
UPPER_BANDS = (
    "The upper bands moved and the lower ones did not. Look at the jig: its leads, its clips, and what lies "
    "near them."
)
LOWER_BANDS = (
    "The lower bands moved and the upper ones did not. Look at the check standard itself: a cold or warm "
    "core, a crack, a loose end."
)
SINGLE_BANDS = "Single bands moved. Look for a loose connection and for a signal from outside on them."
THEN = "If it stays out, calibrate at the clips again and sweep it once more."


@dataclass(frozen=True)
class BandOutside:
    """A band that left its limits, in the figure's unit."""

    band: str
    value: float
    mean: float
    low: float
    high: float


def list_bands_outside(
    bands: Sequence[str], sweep: FloatArray, limits: Limits, outside: npt.NDArray[np.bool_]
) -> tuple[BandOutside, ...]:
    """List the bands that left their limits, the farthest first."""
    columns = (sweep, limits.mean, limits.low, limits.high)
    rows = [
        BandOutside(bands[at], *(float(each[at]) for each in columns))
        for at in np.flatnonzero(outside).tolist()
    ]
    return tuple(sorted(rows, key=lambda row: -abs(row.value - row.mean) / max(row.high - row.mean, 1e-12)))


def describe_outside(figure: str, found: Sequence[BandOutside]) -> str:
    """Describe which bands left their limits, in one sentence."""
    digits, unit = DIGITS[figure], f" {UNITS[figure]}".rstrip()
    parts = [
        f"{WORDS[figure]} on {row.band} read {row.value:.{digits}f}{unit}, where {row.low:.{digits}f} to "
        f"{row.high:.{digits}f}{unit} is usual"
        for row in found[:MOST_BANDS_NAMED]
    ]
    more = len(found) - MOST_BANDS_NAMED
    rest = f"; {more} more band{'s' if more > 1 else ''} left the usual range too" if more > 0 else ""
    return f"The check standard is out of control: {'; '.join(parts)}{rest}."


def advise(sweep: FloatArray, limits: Limits, outside: npt.NDArray[np.bool_]) -> str:
    """Advise what to look at, from where the bands lie that moved. Bands go from low to high frequency."""
    judged = np.isfinite(limits.low) & np.isfinite(sweep)
    # beyond one standard deviation of a sweep counts as moved here: limits are far wider for few sessions
    away = np.where(judged, (sweep - limits.mean) / np.where(limits.sd > 0, limits.sd, 1), 0.0)[judged]
    left = outside[judged]
    return f"{SWEEP_AGAIN} {_point_out(away, left)} {THEN}"


def _point_out(away: FloatArray, left: npt.NDArray[np.bool_]) -> str:
    half = len(away) // 2
    sign = np.sign(away[np.argmax(np.abs(away))])
    if len(away) < 4:
        return ALL_BANDS if np.all(away * sign > 1) else SINGLE_BANDS
    if np.mean(away * sign > 1) >= 0.8:
        return ALL_BANDS
    low, high = left[:half], left[-half:]
    if not low.any() and high.mean() >= 0.5:
        return UPPER_BANDS
    if not high.any() and low.mean() >= 0.5:
        return LOWER_BANDS
    return SINGLE_BANDS
