"""What stewards set for their group while it runs; what is not here is at its house default."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace

from django.conf import settings

from measurements.disclosure import thresholds
from measurements.disclosure.thresholds import Thresholds
from measurements.fitness.service_facts import ServiceRules
from measurements.models.group_facts import GroupSetting
from measurements.models.read_once import read_catalogue

# The numbers that stewards may set for their group: what each is, its house default, and its bounds.


@dataclass(frozen=True)
class SettingRule:
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
        """Say whether `value` is a number that this rule takes."""
        if isinstance(value, bool) or not isinstance(value, int | float) or not math.isfinite(value):
            return False
        return self.low <= value <= self.high and not (self.whole and value != int(value))


_SERVICE_RULES = ServiceRules()

_SETTING_RULE_LIST = (
    SettingRule(
        "service_test_interval_days",
        "Days between tests",
        _SERVICE_RULES.test_interval_days,
        1,
        3660,
        "days",
        True,
        "A device in service whose newest test is older than this is due for a test.",
    ),
    SettingRule(
        "service_inspection_interval_days",
        "Days between inspections",
        _SERVICE_RULES.inspection_interval_days,
        1,
        3660,
        "days",
        True,
        "A device in service whose newest inspection is older than this is due to be looked at.",
    ),
    SettingRule(
        "service_watch_margin_db",
        "Margin that is watched",
        _SERVICE_RULES.watch_margin_db,
        0,
        20,
        "dB",
        False,
        "A device whose rejection is less than this above the benchmark is watched, beside one that its "
        "uncertainty or repeating the test may put below it.",
    ),
    SettingRule(
        "service_drift_db",
        "Drift that is allowed",
        _SERVICE_RULES.drift_db,
        0.5,
        20,
        "dB",
        False,
        "A device whose rejection changed by more than this since its commissioning test asks for another "
        "look.",
    ),
    SettingRule(
        "service_drift_loss_db",
        "Drift of the loss that is allowed",
        _SERVICE_RULES.drift_loss_db,
        0.05,
        5,
        "dB",
        False,
        "A device whose insertion loss rose by more than this since its commissioning asks for another look.",
    ),
    SettingRule(
        "service_drift_swr",
        "Drift of the SWR that is allowed",
        _SERVICE_RULES.drift_swr,
        0.05,
        2,
        "",
        False,
        "A device whose SWR rose by more than this since its commissioning asks for another look.",
    ),
    SettingRule(
        "votes_per_contributor",
        "Votes of one contributor on a design",
        thresholds.DEFAULT_THRESHOLDS.votes_per_contributor,
        1,
        10,
        "devices",
        True,
        "So many devices of one person count in a design's evidence. It acts from the next release on, "
        "on designs whose evidence changes there.",
    ),
)

SETTING_RULES: Mapping[str, SettingRule] = {rule.name: rule for rule in _SETTING_RULE_LIST}


# The group's own settings as values, for the rooms that read and write.
#
# Some come from the server's settings; `value` and `values` read what stewards set while it runs.


def get_group_setting(name: str) -> float:
    """Return a number of `house_rules.RULES`, as stewards set it or its house default. KeyError: no such
    rule.
    """
    return get_group_settings(name)[name]


def get_group_settings(*names: str) -> dict[str, float]:
    """Return several of them (all, where none is named), in one query."""
    wanted = names or tuple(SETTING_RULES)
    found = {name: SETTING_RULES[name].default for name in wanted}
    found.update((name, value) for name, value in _read_changed_settings() if name in found)
    return {
        name: int(number) if SETTING_RULES[name].whole else float(number) for name, number in found.items()
    }


@read_catalogue
def _read_changed_settings() -> tuple[tuple[str, float], ...]:
    return tuple(GroupSetting.objects.values_list("name", "value"))


def get_release_thresholds() -> Thresholds:
    """Return the thresholds that the next release is made under."""
    return replace(get_thresholds(), votes_per_contributor=int(get_group_setting("votes_per_contributor")))


def get_thresholds() -> Thresholds:
    """Return the thresholds below which nothing is shown; without a query, so that every row may ask."""
    return Thresholds(
        min_contributors=settings.BENCHNIGHT_MIN_CONTRIBUTORS,
        public_min_contributors=settings.BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS,
        min_joiners=settings.BENCHNIGHT_MIN_JOINERS,
        detail_min_contributors=settings.BENCHNIGHT_DETAIL_MIN_CONTRIBUTORS,
    )
