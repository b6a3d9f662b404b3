"""Values read off a screen and typed in: checked strictly, kept apart from sweeps."""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np

from measurements.errors import BenchnightError, Kind
from measurements.rf.sweeps.file_limits import MAX_FREQUENCY_HZ, MAX_READINGS
from measurements.rf.sweeps.sweep import Floats

MAX_VALUE = 1e6
_KEYS = {"frequency_hz", "value"}


@dataclass(frozen=True, eq=False)
class Readings:
    """freq_hz: (R,) float64 rising, positive; value: (R,) float64, finite, not negative."""

    freq_hz: Floats
    value: Floats


def parse_readings(items: Sequence[object], *, field: str = "readings", least: float = 0.0) -> Readings:
    """Check and sort typed-in readings.

    items: 1 to 1,000 mappings with exactly the keys frequency_hz and value, both numbers (not text,
    not truth values). least: the smallest value that makes sense (0 for decibels of rejection or
    loss, which are typed without sign; 1 for an SWR).

    Raises BenchnightError: readings.empty, readings.too_many, readings.shape, readings.not_a_number,
    readings.not_finite, readings.frequency, readings.value, readings.duplicate; `line` is the number
    of the reading, from 1.
    """
    if isinstance(items, (str, bytes)) or not isinstance(items, Sequence):
        raise _refusal("shape", 'Give a list such as [{"frequency_hz": 7100000, "value": 31.2}].', field)
    if not items:
        raise _refusal("empty", "Type in at least one reading.", field)
    if len(items) > MAX_READINGS:
        raise _refusal(
            "too_many",
            f"There are {len(items)} readings; at most {MAX_READINGS} are taken. Send a sweep file instead.",
            field,
            kind="too_large",
        )
    pairs = sorted(_parse_pair(item, number, field, least) for number, item in enumerate(items, 1))
    for (low, _, _), (high, _, number) in pairwise(pairs):
        if low == high:
            raise _refusal(
                "duplicate",
                f"Reading {number} repeats the frequency {high:g} Hz. Keep one of them.",
                field,
                number,
            )
    table = np.array([(frequency, value) for frequency, value, _ in pairs])
    return Readings(table[:, 0].copy(), table[:, 1].copy())


def _parse_pair(item: object, number: int, field: str, least: float) -> tuple[float, float, int]:
    if not isinstance(item, dict) or item.keys() != _KEYS:
        raise _refusal(
            "shape", f"Reading {number} needs frequency_hz and value, and nothing else.", field, number
        )
    frequency_hz = _parse_number(item["frequency_hz"], number, field)
    value = _parse_number(item["value"], number, field)
    if not 0 < frequency_hz <= MAX_FREQUENCY_HZ:
        raise _refusal("frequency", f"Reading {number} needs a frequency above 0, in Hz.", field, number)
    if not least <= value <= MAX_VALUE:
        raise _refusal(
            "value",
            f"Reading {number} is {value:g}; it must be at least {least:g}. "
            "Type losses and rejections as positive decibels.",
            field,
            number,
        )
    return frequency_hz, value, number


def _parse_number(value: object, number: int, field: str) -> float:
    if isinstance(value, bool) or not isinstance(value, (int, float)):
        raise _refusal("not_a_number", f"Reading {number} has something that is not a number.", field, number)
    try:
        converted = float(value)
    except OverflowError:  # a whole number beyond the range of floats
        converted = math.inf
    if not math.isfinite(converted):
        raise _refusal(
            "not_finite",
            f"Reading {number} has a number that is not finite. Give an ordinary one.",
            field,
            number,
        )
    return converted


def _refusal(
    code: str, detail: str, field: str, number: int | None = None, kind: Kind = "invalid"
) -> BenchnightError:
    return BenchnightError(f"readings.{code}", detail, kind=kind, field=field, line=number)
