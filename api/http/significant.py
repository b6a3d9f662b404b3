"""Figures with as many digits as mean something.

A reading of an analyser is good for three digits; with five, what rounding adds stays a hundred times below
the uncertainty. What is stored keeps all digits: recomputing compares stored figures, never replies.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

DIGITS = 5
HZ_DIGITS = 9  # a place on a frequency grid is exact: whole hertz up to 1 GHz
# places between the points of a grid, found by interpolation, are figures like any other
INTERPOLATED = ("self_resonance_hz", "meets_from_hz", "meets_to_hz", "resonance_then_hz", "resonance_now_hz")
# what its sender or a source gave goes back unchanged
AS_GIVEN = frozenset({"settings", "recipe", "as_json", "source"})


def round_figures(value: Any, name: str = "") -> Any:
    """Round every float inside a reply's data; the result holds no object of `value` that it changed."""
    if isinstance(value, float):
        return round_figure(value, name)
    if isinstance(value, Mapping):
        return {key: inner if key in AS_GIVEN else round_figures(inner, key) for key, inner in value.items()}
    if isinstance(value, list | tuple):
        return [round_figures(inner, name) for inner in value]
    return value


def round_figure(value: float, name: str) -> float:
    """Round one figure to the digits that its name allows; the renderer refuses NaN and infinities."""
    digits = HZ_DIGITS if name.endswith("_hz") and name not in INTERPOLATED else DIGITS
    rounded = float(f"{value:.{digits}g}")
    return rounded if math.isfinite(rounded) else value  # the largest numbers there are
