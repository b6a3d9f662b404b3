"""No verdict where a sweep or its wiring is in doubt: the last step before a result leaves.

A flag of severity `exclude` takes the verdict of its band, or of all bands, away. A duplicate says nothing
about the sweep: it changes what counts as evidence alone.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any

from measurements.rf.instruments.decision import MEETS

# reasons that were not found in the sweep and its wiring
EVIDENCE_ALONE = frozenset({"same_sweep"})


def withhold_verdicts(
    bands: Iterable[Mapping[str, Any]], flags: Iterable[Mapping[str, Any]]
) -> list[dict[str, Any]]:
    """Return the bands of a result with `decision` and `meets` as its flags leave them.

    A band without a decision of its own gets the one that its `meets` says.
    """
    names = {
        one["band"] for one in flags if one["severity"] == "exclude" and one["code"] not in EVIDENCE_ALONE
    }
    found = []
    for band in bands:
        decision = band.get("decision") or _NAMES[band["meets"]]
        if None in names or band["band"] in names:
            decision = "not_judged"
        found.append({**band, "meets": MEETS[decision], "decision": decision})
    return found


def withhold_span(summary: Mapping[str, Any], flags: Iterable[Mapping[str, Any]]) -> dict[str, Any]:
    """Return the summary without the span that meets, where a flag leaves the whole test out."""
    left_out = any(
        one["severity"] == "exclude" and one["band"] is None and one["code"] not in EVIDENCE_ALONE
        for one in flags
    )
    spans = dict.fromkeys(("meets_from_hz", "meets_to_hz")) if left_out and "meets_from_hz" in summary else {}
    return {**summary, **spans}


_NAMES: dict[bool | None, str] = {True: "meets", False: "falls_short", None: "not_judged"}
