"""The numbers that stewards may set for their group: what each is, its house default, and its bounds."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass

from measurements.disclosure import thresholds
from measurements.verdict.service_facts import Rules


@dataclass(frozen=True)
class HouseRule:
    """One number. default: the house default, common practice and no source. low, high: both allowed."""

    name: str
    label: str
    default: float
    low: float
    high: float
    unit: str
    whole: bool
    meaning: str

    def allows(self, value: object) -> bool:
        """Whether `value` is a number that this rule takes."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            return False
        return self.low <= value <= self.high and not (self.whole and value != int(value))


_SERVICE = Rules()
_LISTED = (
    HouseRule(
        "service_test_interval_days",
        "Days between tests",
        _SERVICE.test_interval_days,
        1,
        3660,
        "days",
        True,
        "A device in service whose newest test is older than this is due for a test.",
    ),
    HouseRule(
        "service_inspection_interval_days",
        "Days between inspections",
        _SERVICE.inspection_interval_days,
        1,
        3660,
        "days",
        True,
        "A device in service whose newest inspection is older than this is due to be looked at.",
    ),
    HouseRule(
        "service_watch_margin_db",
        "Margin that is watched",
        _SERVICE.watch_margin_db,
        0,
        20,
        "dB",
        False,
        "A device whose rejection is less than this above the benchmark is watched.",
    ),
    HouseRule(
        "service_drift_db",
        "Drift that is allowed",
        _SERVICE.drift_db,
        0.5,
        20,
        "dB",
        False,
        "A device whose rejection changed by more than this since its commissioning test asks for another "
        "look.",
    ),
    HouseRule(
        "votes_per_contributor",
        "Votes of one contributor on a design",
        thresholds.HOUSE.votes_per_contributor,
        1,
        10,
        "devices",
        True,
        "So many devices of one person count in a design's evidence. It acts from the next release on, "
        "on designs whose evidence changes there.",
    ),
)
RULES: Mapping[str, HouseRule] = {rule.name: rule for rule in _LISTED}
