"""Stewards write what the group is: its name, region, time zone, and the terms of its data."""

from __future__ import annotations

import zoneinfo
from collections.abc import Callable
from typing import Any

from django.db import transaction

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, ErrorCollector
from measurements.models import GroupSetting, group_facts
from measurements.models.group_facts import DATA_TERMS, DEMO, GROUP_NAME, REGION, TIME_ZONE
from measurements.services.operations import audit

MOST_NAME = 80
MOST_TERMS = 400
REGIONS = (1, 2, 3)  # ITU Radio Regulations, Article 5


def change_group_facts(*, by: Viewer, **facts: Any) -> None:
    """Write some of group_name, region, time_zone, data_terms; the server's settings count for the others.

    Other processes read a change within `group_facts.FRESH_S` seconds.
    Raises BenchnightError `group_fact.*` with every fault.
    """
    policy.check_steward(by)
    faults = ErrorCollector("group_fact.faulty", "Some of this cannot be used; see the list.")
    cleaned = {name: _clean(name, value, faults) for name, value in facts.items()}
    faults.raise_any()
    with transaction.atomic():
        before = group_facts.read_group_facts()
        for name, value in cleaned.items():
            _write(name, value)
            audit.record_action(
                by=by, action="group_setting.change", subject=name, before=before.get(name), after=value
            )
        transaction.on_commit(group_facts.forget_group_facts)
    group_facts.forget_group_facts()


def mark_demo(*, loaded: bool) -> None:
    """Note whether the demo is here; every page says so. Call inside the transaction of the change."""
    if loaded:
        _write(DEMO, True)
    else:
        GroupSetting.objects.filter(name=DEMO).delete()
    transaction.on_commit(group_facts.forget_group_facts)
    group_facts.forget_group_facts()


def _write(name: str, value: Any) -> None:
    GroupSetting.objects.update_or_create(name=name, defaults={"value": value})


def _clean(name: str, value: Any, faults: ErrorCollector) -> Any:
    if name not in _CLEANERS:
        raise BenchnightError("group_fact.unknown", f"There is no such fact; known: {', '.join(_CLEANERS)}.")
    try:
        return _CLEANERS[name](value)
    except ValueError as error:
        faults.add(name, f"group_fact.{name}", str(error))
        return None


def _clean_name(value: Any) -> str:
    name = " ".join(str(value).split())
    if not 1 <= len(name) <= MOST_NAME or not name.isprintable():
        raise ValueError(f"Give a name of 1 to {MOST_NAME} characters.")
    return name


def _clean_region(value: Any) -> int:
    if str(value).strip() not in map(str, REGIONS):
        raise ValueError("Give the ITU region: 1, 2 or 3.")
    return int(str(value))


def _clean_zone(value: Any) -> str:
    name = str(value).strip()
    if name not in zoneinfo.available_timezones():
        raise ValueError("Give a time zone of the IANA list, such as Europe/Lisbon.")
    return name


def _clean_terms(value: Any) -> str:
    terms = " ".join(str(value).split())
    if len(terms) > MOST_TERMS or not terms.isprintable():
        raise ValueError(f"Give at most {MOST_TERMS} characters.")
    return terms


_CLEANERS: dict[str, Callable[[Any], Any]] = {
    GROUP_NAME: _clean_name,
    REGION: _clean_region,
    TIME_ZONE: _clean_zone,
    DATA_TERMS: _clean_terms,
}
