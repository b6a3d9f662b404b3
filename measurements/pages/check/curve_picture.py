"""The curve of a sweep as a small drawing inside the page: nothing is stored, so no address can draw it."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from measurements.selectors.reference.reference import BandRow

WIDTH, HEIGHT = 640.0, 300.0
MOST_POINTS = 240
TICKS_MHZ = (1, 2, 3, 5, 7, 10, 14, 20, 30, 50)
# kind: the trace, its axis, the least and the most that the drawing shows, its lines
AXES = {
    "common_mode": ("rejection_db", "Rejection, dB", 0.0, 60.0, (0, 10, 20, 30, 40, 50, 60)),
    "load_match": ("swr", "SWR", 1.0, 4.0, (1, 1.5, 2, 3, 4)),
    "insertion_loss": ("loss_db", "Loss, dB", 0.0, 3.0, (0, 0.5, 1, 2, 3)),
}


@dataclass(frozen=True)
class CurvePicture:
    """title: of the axis. across, upward: (place, words) of grid lines. limit: place of the limit, or None.

    bands: (place, width, name) of the bands swept. words: what it shows, for who cannot see it.
    """

    path: str
    title: str
    across: tuple[tuple[float, str], ...]
    upward: tuple[tuple[float, str], ...]
    limit: float | None
    bands: tuple[tuple[float, float, str], ...]
    words: str


def build_curve_picture(
    kind: str, traces: dict[str, Any], bands: Sequence[BandRow], limit: float | None, said: str
) -> CurvePicture | None:
    """Draw the judged figure over a logarithmic frequency axis; None where it was not swept.

    limit: the benchmark in the unit of the figure. said: the verdict in words.
    """
    name, title, low, high, lines = AXES[kind]
    points = _list_points(traces.get("freq_hz"), traces.get(name))
    if len(points) < 2:
        return None
    first_hz, last_hz = points[0][0], points[-1][0]
    across = tuple(
        (round(_place(mhz * 1e6, first_hz, last_hz), 1), f"{mhz}")
        for mhz in TICKS_MHZ
        if first_hz <= mhz * 1e6 <= last_hz
    )
    drawn = "L".join(
        f"{_place(hz, first_hz, last_hz):.1f} {_height(value, low, high):.1f}" for hz, value in points
    )
    return CurvePicture(
        path=f"M{drawn}",
        title=title,
        across=across,
        upward=tuple((round(_height(line, low, high), 1), f"{line:g}") for line in lines),
        limit=None if limit is None else round(_height(limit, low, high), 1),
        bands=_list_bands(bands, first_hz, last_hz),
        words=f"{title} from {first_hz / 1e6:.3g} to {last_hz / 1e6:.3g} MHz. {said}.",
    )


def _list_points(freq_hz: Any, values: Any) -> list[tuple[float, float]]:
    """Thin the trace to what a drawing of this width can show; the verdict rests on all points."""
    if freq_hz is None or values is None:
        return []
    known = [
        (float(hz), float(value))
        for hz, value in zip(freq_hz, values, strict=True)
        if hz > 0 and value is not None and math.isfinite(value)
    ]
    step = max(1, len(known) // MOST_POINTS)
    return [*known[::step], *([known[-1]] if step > 1 else [])]


def _list_bands(
    bands: Sequence[BandRow], first_hz: float, last_hz: float
) -> tuple[tuple[float, float, str], ...]:
    found = []
    for row in bands:
        if row.start_hz >= first_hz and row.stop_hz <= last_hz:
            start = _place(row.start_hz, first_hz, last_hz)
            width = max(_place(row.stop_hz, first_hz, last_hz) - start, 3.0)
            found.append((round(start, 1), round(width, 1), row.band))
    return tuple(found)


def _place(hz: float, first_hz: float, last_hz: float) -> float:
    return WIDTH * math.log(hz / first_hz) / math.log(last_hz / first_hz)


def _height(value: float, low: float, high: float) -> float:
    """Put a value on the drawing; what is beyond its edge lies on the edge."""
    return HEIGHT * (1 - (min(max(value, low), high) - low) / (high - low))
