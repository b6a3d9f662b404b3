"""The decision that a figure and its uncertainty allow: meets, falls_short, too_close or not_judged.

A figure inside the limit by U or more meets; beyond it by U or more falls short; between them it is too close
to call, which is an answer and no verdict. Source: guard bands w = U on either side of a limit, JCGM 106:2012
(8.3) and ILAC-G8:09/2019 (from memory).
"""

from __future__ import annotations

from typing import Any, Literal

import numpy as np

from measurements.rf.bands import BandView, Worst
from measurements.rf.sweeps.result_values import to_json_number
from measurements.rf.sweeps.sweep import Floats

Decision = Literal["meets", "falls_short", "too_close", "not_judged"]
DECISIONS: tuple[Decision, ...] = ("meets", "falls_short", "too_close", "not_judged")
MEETS: dict[str, bool | None] = {"meets": True, "falls_short": False, "too_close": None, "not_judged": None}


def decide(worst: float | None, uncertainty: float | None, limit: float, *, high_is_good: bool) -> Decision:
    """Return the decision on one figure; `too_close` where its uncertainty is not known (None)."""
    if worst is None:
        return "not_judged"
    if uncertainty is None:
        return "too_close"
    inside = worst - limit if high_is_good else limit - worst
    if inside >= uncertainty:
        return "meets"
    return "falls_short" if -inside >= uncertainty else "too_close"


def join_decisions(first: Decision, second: Decision) -> Decision:
    """Return the decision where both figures have to keep to their limits."""
    for one in ("falls_short", "not_judged", "too_close"):
        if one in (first, second):
            return one
    return "meets"


def get_band_uncertainty(view: BandView, values: Floats, uncertainty: Floats, worst: Worst) -> float | None:
    """Return U of the worst figure of a band, None where it is not known.

    Another point that is better, but less certain, may truly be the worst one: U reaches to the worst value
    that any point of the band allows.
    """
    inside, spread = values[view.inside], uncertainty[view.inside]
    badness = -inside if worst == "smallest" else np.abs(inside) if worst == "largest_magnitude" else inside
    defined = np.isfinite(badness)
    if not defined.any() or np.isnan(spread[defined]).any():
        return None
    return to_json_number(np.max((badness + spread)[defined]) - np.max(badness[defined]))


def build_decision(decision: Decision) -> dict[str, Any]:
    """Return the decision and the `meets` that follows from it, as a band of a result carries them."""
    return {"meets": MEETS[decision], "decision": decision}
