"""The group's own settings as values, for the rooms that read and write.

Some come from the server's settings; `value` and `values` read what stewards set while it runs.
"""

from __future__ import annotations

from dataclasses import replace

from django.conf import settings

from measurements.disclosure.thresholds import Thresholds
from measurements.models.group_settings import GroupSetting
from measurements.models.house_rules import RULES


def value(name: str) -> float:
    """A number of `house_rules.RULES`, as stewards set it or its house default. KeyError: no such rule."""
    return values(name)[name]


def values(*names: str) -> dict[str, float]:
    """Several of them (all, where none is named), in one query."""
    wanted = names or tuple(RULES)
    found = {name: RULES[name].default for name in wanted}
    found.update(GroupSetting.objects.filter(name__in=wanted).values_list("name", "value"))
    return {name: int(number) if RULES[name].whole else float(number) for name, number in found.items()}


def release_thresholds() -> Thresholds:
    """The thresholds that the next release is made under."""
    return replace(thresholds(), votes_per_contributor=int(value("votes_per_contributor")))


def thresholds() -> Thresholds:
    """The thresholds below which nothing is shown; without a query, so that every row may ask."""
    return Thresholds(
        min_contributors=settings.BENCHNIGHT_MIN_CONTRIBUTORS,
        public_min_contributors=settings.BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS,
        min_changes=settings.BENCHNIGHT_MIN_CHANGES,
    )


def region() -> int:
    """The ITU region whose band plan counts here."""
    return int(settings.BENCHNIGHT_REGION)


def terms() -> tuple[str, str]:
    """The group's name, and under which terms its data may be passed on (empty: it has not said)."""
    return settings.BENCHNIGHT_GROUP_NAME, settings.BENCHNIGHT_DATA_TERMS
