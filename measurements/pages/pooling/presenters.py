"""What a keeper tells this group alone, in sentences: how its benches compare."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

_UNITS = {"common_mode": " dB", "insertion_loss": " dB", "load_match": ""}


def write_offsets(offsets: Iterable[Mapping[str, Any]]) -> list[str]:
    """Write a sentence for each band on which this group reads certainly off, the largest first."""
    certain = sorted((row for row in offsets if row["certain"]), key=lambda row: -abs(row["offset"]))
    return [_write_offset(row) for row in certain]


def _write_offset(row: Mapping[str, Any]) -> str:
    unit = _UNITS.get(row["kind"], "")
    low, high = sorted((abs(row["low"]), abs(row["high"])))
    way = "high" if row["offset"] > 0 else "low"
    return (
        f"Your bench reads {abs(row['offset']):g}{unit} {way} on {row['band']} beside the other groups "
        f"(95 %: {low:g} to {high:g}{unit}). Sweep your check standard, then look at the jig and the "
        "calibration."
    )
