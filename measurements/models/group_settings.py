"""What stewards set for their group while it runs; what is not here is at its house default."""

from __future__ import annotations

import math
import time
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

from django.conf import settings
from django.db import DatabaseError, models

from measurements.disclosure import thresholds
from measurements.disclosure.thresholds import Thresholds
from measurements.fitness.service_facts import ServiceRules
from measurements.models.read_once import read_catalogue


class GroupSetting(models.Model):
    """One setting that a steward changed. value: a number as its rule allows, or a fact of the group."""

    name = models.CharField(max_length=48, primary_key=True)
    value = models.JSONField()
    changed_at = models.DateTimeField(auto_now=True)


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


# Facts of the group, which a steward writes over the server's settings. Every page asks for them, so each
# process keeps them for some seconds: a change reaches the other processes within that time.

GROUP_NAME, REGION, TIME_ZONE, DATA_TERMS, DEMO = "group_name", "region", "time_zone", "data_terms", "demo"
FACTS = (GROUP_NAME, REGION, TIME_ZONE, DATA_TERMS, DEMO)
FRESH_S = 5.0
_kept_facts: list[tuple[float, Mapping[str, Any]]] = []


def read_group_facts() -> dict[str, Any]:
    """Read what stewards wrote, by name; what nobody wrote is absent."""
    return dict(GroupSetting.objects.filter(name__in=FACTS).values_list("name", "value"))


def keep_group_facts(facts: Mapping[str, Any], *, for_s: float = FRESH_S) -> None:
    """Keep these facts in this process."""
    _kept_facts[:] = [(time.monotonic() + for_s, facts)]


def forget_group_facts() -> None:
    """Read the facts anew when they are next asked for."""
    _kept_facts.clear()


def get_group_facts() -> Mapping[str, Any]:
    """Return the facts as this process knows them. While the database is away the last ones known count."""
    kept = next(iter(_kept_facts), None)
    if kept is not None and time.monotonic() < kept[0]:
        return kept[1]
    try:
        facts = read_group_facts()
    except DatabaseError:
        return {} if kept is None else kept[1]
    keep_group_facts(facts)
    return facts


def get_group_name() -> str:
    """Return what the group calls itself."""
    return str(get_group_facts().get(GROUP_NAME, settings.BENCHNIGHT_GROUP_NAME))


def get_region() -> int:
    """Return the ITU region whose band plan counts here."""
    return int(get_group_facts().get(REGION, settings.BENCHNIGHT_REGION))


def get_time_zone() -> str:
    """Return the zone of days and hours on pages and in forms, a name of the IANA list."""
    return str(get_group_facts().get(TIME_ZONE, settings.TIME_ZONE))


def has_demo() -> bool:
    """Tell whether the demo's invented people, devices and sweeps are among what is here."""
    return bool(get_group_facts().get(DEMO))


def get_data_terms() -> tuple[str, str]:
    """Return the group's name, and under which terms its data may be passed on (empty: it has not said)."""
    terms = get_group_facts().get(DATA_TERMS, settings.BENCHNIGHT_DATA_TERMS)
    return get_group_name(), str(terms)
