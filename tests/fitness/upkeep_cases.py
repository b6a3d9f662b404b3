"""Invented devices for the rules of upkeep."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta
from typing import Any

from measurements.fitness.checklist import CHECKLIST_ITEMS
from measurements.fitness.last_answers import InspectionFact
from measurements.fitness.service_facts import (
    CORE_BANDS,
    DeviceFacts,
    MarkFact,
    ServiceCase,
    ServiceRules,
    know_no_repeats,
)
from measurements.fitness.service_state import assess_device
from measurements.fitness.test_facts import BandFact, DcFact, TestFact

TODAY = date(2026, 6, 1)
LIMITS = {"common_mode": 20.0, "load_match": 1.5, "insertion_loss": 0.5}
CORE = {f"b{band}": 30.0 for band in CORE_BANDS}


def ago(days: int) -> date:
    return TODAY - timedelta(days=days)


def at(days: int, hour: int = 12) -> datetime:
    """A moment so many days ago."""
    return datetime(TODAY.year, TODAY.month, TODAY.day, hour, tzinfo=UTC) - timedelta(days=days)


def choke_test(
    key: str = "t1",
    days_ago: int = 10,
    *,
    limited: tuple[str, ...] = (),
    close: tuple[str, ...] = (),
    unjudged: tuple[str, ...] = (),
    why_not: str = "",
    recorded_at: datetime | None = None,
    uncertainty: float | None = None,
    **worst: float,
) -> TestFact:
    """A common-mode test; `b40m=31.0` is the worst rejection of the band 40m.

    limited: bands of which the figure is a lower bound; close: too close to call; unjudged: a flag leaves
    them out.
    """
    bands = tuple(
        BandFact(
            name[1:],
            None if name[1:] in (*close, *unjudged) else value >= LIMITS["common_mode"],
            value,
            name[1:] in limited,
            uncertainty,
            name[1:] in close,
        )
        for name, value in worst.items()
    )
    return TestFact(
        key,
        "common_mode",
        "s21",
        ago(days_ago),
        bands,
        LIMITS["common_mode"],
        why_not,
        recorded_at=recorded_at,
    )


def of_kind(
    kind: str,
    key: str = "k1",
    days_ago: int = 10,
    finding: str = "",
    why_not: str = "",
    recorded_at: datetime | None = None,
    close: tuple[str, ...] = (),
    **worst: float,
) -> TestFact:
    limit = LIMITS.get(kind)
    meets = {"balance": 1.0}.get(kind, limit)
    bands = tuple(
        BandFact(
            name[1:],
            None if meets is None or name[1:] in close else value <= meets,
            value,
            too_close=name[1:] in close,
        )
        for name, value in worst.items()
    )
    return TestFact(
        key, kind, kind, ago(days_ago), bands, limit, why_not, finding=finding, recorded_at=recorded_at
    )


def match(key: str = "m1", days_ago: int = 10, swr: float = 1.2, **more: Any) -> TestFact:
    """A load match on the core bands."""
    return of_kind("load_match", key, days_ago, **more, **dict.fromkeys(CORE, swr))


def loss(key: str = "l1", days_ago: int = 10, loss_db: float = 0.2, **more: Any) -> TestFact:
    """An insertion loss on the core bands."""
    return of_kind("insertion_loss", key, days_ago, **more, **dict.fromkeys(CORE, loss_db))


def readings(
    key: str = "d1",
    days_ago: int = 10,
    meets: bool | None = True,
    shows: bool = True,
    dc_type: str = "current_1_1",
    **more: Any,
) -> TestFact:
    """An ohmmeter test. shows: it rules out a broken and a shorted wire."""
    dc = DcFact(meets, () if meets else ("C to A reads open and should be joined",), 3, shows, dc_type)
    return TestFact(key, "dc", "ohmmeter", ago(days_ago), (), None, dc=dc, **more)


def inspection(
    days_ago: int = 10, *, said: tuple[str, ...] = (), recorded_at: datetime | None = None, **states: str
) -> InspectionFact:
    """One inspection of the items that are named; of terminals alone where none is."""
    return InspectionFact(ago(days_ago), states or {"terminals": "ok"}, frozenset(said), recorded_at)


def inspected(days_ago: int = 10, *, recorded_at: datetime | None = None, **states: str) -> InspectionFact:
    """An inspection of every item, good where no other answer is given."""
    every = {item.code: "ok" for item in CHECKLIST_ITEMS} | states
    return InspectionFact(ago(days_ago), every, recorded_at=recorded_at)


def mark(event: str = "storm", days_ago: int = 3, reason: str = "", hour: int = 12) -> MarkFact:
    """A mark made at that hour of its day."""
    return MarkFact(event, ago(days_ago), reason, at(days_ago, hour))


def repeats(**kinds: dict[str, float]) -> Any:
    """A yardstick: kind -> band -> what repeating a test explains."""
    return lambda kind: kinds.get(kind, {})


def judged(
    *tests: TestFact, rules: ServiceRules | None = None, yardstick: Any = know_no_repeats, **device: Any
) -> Any:
    """The service of a choke with these tests, in any order, of which the later of a day is named first."""
    facts = {"purpose": "choke", "principle": "current", "ratio": "1:1", **device}
    facts.setdefault("registered_on", date(2026, 1, 1))
    newest_first = tuple(sorted(tests, key=lambda test: test.measured_on, reverse=True))
    case = ServiceCase(DeviceFacts(tests=newest_first, **facts), rules or ServiceRules(), TODAY, yardstick)
    return assess_device(case)


def sound(*more: TestFact, **device: Any) -> Any:
    """The service of a choke that lacks nothing: its work, its way through, every item; and what is added.

    tests, inspections: in place of the usual ones.
    """
    tests = device.pop("tests", (choke_test(**CORE), match()))
    looks = device.pop("inspections", (inspected(),))
    return judged(*more, *tests, inspections=looks, **device)


def codes(service: Any, weight: str | None = None) -> list[str]:
    return [reason.code for reason in service.reasons if weight in (None, reason.weight)]
