"""Invented devices for the rules of upkeep."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from measurements.fitness.service_facts import DeviceFacts, InspectionFact, ServiceCase, ServiceRules
from measurements.fitness.service_state import assess_device
from measurements.fitness.test_facts import BandFact, TestFact

TODAY = date(2026, 6, 1)
LIMITS = {"common_mode": 20.0, "load_match": 1.5, "insertion_loss": 0.5}


def choke_test(
    key: str = "t1", days_ago: int = 10, *, limited: tuple[str, ...] = (), why_not: str = "", **worst: float
) -> TestFact:
    """A common-mode test; `b40m=31.0` is the worst rejection of the band 40m."""
    bands = tuple(
        BandFact(name[1:], value >= LIMITS["common_mode"], value, name[1:] in limited)
        for name, value in worst.items()
    )
    on = TODAY - timedelta(days=days_ago)
    return TestFact(key, "common_mode", "s21", on, bands, LIMITS["common_mode"], why_not)


def of_kind(kind: str, key: str = "k1", days_ago: int = 10, finding: str = "", **worst: float) -> TestFact:
    limit = LIMITS.get(kind)
    bands = tuple(
        BandFact(name[1:], None if limit is None else value <= limit, value) for name, value in worst.items()
    )
    on = TODAY - timedelta(days=days_ago)
    return TestFact(key, kind, kind, on, bands, limit, finding=finding)


def inspection(days_ago: int = 10, **states: str) -> InspectionFact:
    return InspectionFact(TODAY - timedelta(days=days_ago), states or {"terminals": "ok"})


def judged(*tests: TestFact, rules: ServiceRules | None = None, yardstick: Any = dict, **device: Any) -> Any:
    """The service of a choke with these tests, the newest first."""
    facts = {"purpose": "choke", "principle": "current", "registered_on": date(2026, 1, 1), **device}
    case = ServiceCase(DeviceFacts(tests=tests, **facts), rules or ServiceRules(), TODAY, yardstick)
    return assess_device(case)


def codes(service: Any, weight: str | None = None) -> list[str]:
    return [reason.code for reason in service.reasons if weight in (None, reason.weight)]
