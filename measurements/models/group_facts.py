"""What a steward wrote of the group: numbers (`group_settings`) and the facts that every page asks for."""

from __future__ import annotations

import time
from collections.abc import Mapping
from typing import Any

from django.conf import settings
from django.db import DatabaseError, models


class GroupSetting(models.Model):
    """One setting that a steward changed. value: a number as its rule allows, or a fact of the group."""

    name = models.CharField(max_length=48, primary_key=True)
    value = models.JSONField()
    changed_at = models.DateTimeField(auto_now=True)


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
