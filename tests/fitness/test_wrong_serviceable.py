"""Scenarios that try to get a wrong "serviceable". None may succeed.

Each is a choke that lacks nothing (`sound`), or another device, in which one thing is wrong that somebody at
a club could meet: common practice and trade.md 6, 7 and 10; no other source. A scenario names the code of the
reason that has to stand against it.
"""

from __future__ import annotations

from typing import Any

import pytest

from measurements.fitness.checklist import CHECKLIST_ITEMS
from tests.fitness.upkeep_cases import (
    CORE,
    TODAY,
    ago,
    at,
    choke_test,
    codes,
    inspected,
    inspection,
    judged,
    loss,
    mark,
    match,
    of_kind,
    readings,
    sound,
)

GOOD = choke_test(**CORE)
OLD_MATCH = match(days_ago=400)
NEVER = {item.code: "does_not_apply" for item in CHECKLIST_ITEMS}
BALUN = {"purpose": "balun"}
BALUN4 = {"purpose": "balun", "ratio": "4:1"}
UNUN = {"purpose": "unun", "principle": "voltage", "ratio": "49:1"}
VOLTAGE = {"purpose": "balun", "principle": "voltage", "ratio": "4:1"}
LOOKED = {"inspections": (inspected(),)}


def only(*tests: Any, **more: Any) -> Any:
    """A device with these tests and a whole inspection."""
    return judged(*tests, **LOOKED | more)


def looked(*looks: Any, **more: Any) -> Any:
    """A choke whose tests are good, with these inspections."""
    return sound(inspections=looks, **more)


def after(event: str, *tests: Any, looks: tuple[Any, ...] = (), **more: Any) -> Any:
    """A sound choke after an event three days ago, and what was done since."""
    return sound(*tests, inspections=(inspected(), *looks), marks=(mark(event),), **more)


STORM_ITEMS = dict.fromkeys(
    ("terminals", "moisture", "enclosure", "strain_relief", "locking", "plug_water"), "ok"
)
DROP_ITEMS = dict.fromkeys(("terminals", "enclosure", "winding", "core"), "ok")

SCENARIOS: dict[str, tuple[Any, str]] = {
    # an item of the check list
    "a fault, then another item answered good": (
        lambda: looked(inspected(20, moisture="fault"), inspection(5, terminals="ok")),
        "inspection_fault",
    ),
    "a fault, then the same item good without what was done": (
        lambda: looked(inspected(20, moisture="fault"), inspection(5, moisture="ok")),
        "inspection_fault",
    ),
    "a fault, then everything good without a word": (
        lambda: looked(inspected(20, core="fault"), inspected(5)),
        "inspection_fault",
    ),
    "a fault, then only to be watched": (
        lambda: looked(inspected(20, core="fault"), inspection(5, said=("core",), core="watch")),
        "inspection_fault",
    ),
    "a fault, then the item does not apply": (
        lambda: looked(inspected(20, core="fault"), inspection(5, said=("core",), core="does_not_apply")),
        "inspection_fault",
    ),
    "a fault, then not looked at": (
        lambda: looked(inspected(20, core="fault"), inspection(5, core="not_looked")),
        "inspection_fault",
    ),
    "a fault, and a good answer entered later of an earlier day": (
        lambda: looked(inspected(20, core="fault"), inspection(30, said=("core",), core="ok")),
        "inspection_fault",
    ),
    "two faults, one of them mended": (
        lambda: looked(
            inspected(20, moisture="fault", corrosion="fault"),
            inspection(5, said=("moisture",), moisture="ok"),
        ),
        "inspection_fault",
    ),
    "a fault mended and found again": (
        lambda: looked(
            inspected(20, moisture="fault"),
            inspection(10, said=("moisture",), moisture="ok"),
            inspection(5, moisture="fault"),
        ),
        "inspection_fault",
    ),
    "a fault at an item of an earlier check list": (
        lambda: looked(inspected(20, dc="fault"), inspected(5)),
        "inspection_fault",
    ),
    "to be watched, then another item good": (
        lambda: looked(inspected(20, corrosion="watch"), inspection(5, terminals="ok")),
        "inspection_watch",
    ),
    "to be watched, then the item does not apply": (
        lambda: looked(inspected(20, corrosion="watch"), inspection(5, corrosion="does_not_apply")),
        "inspection_watch",
    ),
    "a winding mended after its newest tests": (
        lambda: looked(inspected(20, winding="fault"), inspection(5, said=("winding",), winding="ok")),
        "test_after_mending",
    ),
    "never inspected": (lambda: looked(), "never_inspected"),
    "one item looked at, the others never": (
        lambda: looked(inspection(5, insects="ok")),
        "not_all_looked_at",
    ),
    "nothing applies to it": (lambda: looked(inspection(5, **NEVER)), "not_all_looked_at"),
    "one new answer and the others over a year old": (
        lambda: looked(inspected(400), inspection(5, terminals="ok")),
        "inspection_overdue",
    ),
    "all answers new but one": (
        lambda: looked(inspected(400), inspected(5, core="not_looked")),
        "inspection_overdue",
    ),
    # the way through
    "a choke by common mode alone": (lambda: only(GOOD), "through_path_unknown"),
    "a balun by common mode alone": (lambda: only(GOOD, **BALUN), "through_path_unknown"),
    "a 4:1 current balun by common mode and readings": (
        lambda: only(GOOD, readings(shows=False, dc_type="all_joined"), **BALUN4),
        "through_path_unknown",
    ),
    "a balun by common mode and insertion loss": (
        lambda: only(GOOD, loss(), **BALUN),
        "through_path_unknown",
    ),
    "readings that leave out the short": (lambda: only(GOOD, readings(shows=False)), "through_path_unknown"),
    "readings of a 1:1 choke held against the wrong type": (
        lambda: sound(readings(dc_type="all_joined", shows=False)),
        "dc_wrong_type",
    ),
    "readings that do not hold, with a good load match": (
        lambda: sound(readings(meets=False)),
        "dc_fault",
    ),
    "good readings, then wrong ones": (
        lambda: only(GOOD, readings("d2", 5, meets=False), readings("d1", 30)),
        "dc_fault",
    ),
    "wrong readings, then incomplete ones": (
        lambda: sound(readings("d2", 5, meets=None), readings("d1", 30, meets=False)),
        "dc_fault",
    ),
    "a load match that is too close everywhere": (
        lambda: only(GOOD, match(close=tuple(name[1:] for name in CORE))),
        "through_path_unknown",
    ),
    "a load match beyond the limit on every band": (lambda: only(GOOD, match(swr=122.0)), "short_everywhere"),
    "a load match that met, and falls short now": (
        lambda: only(GOOD, match("m2", 5, swr=1.9), match("m1", 200)),
        "short_everywhere",
    ),
    "a new common mode and a way through of last year": (
        lambda: only(GOOD, OLD_MATCH),
        "through_path_overdue",
    ),
    # its work, band by band
    "no test at all": (lambda: only(), "never_tested"),
    "one band alone": (lambda: only(choke_test(b40m=31.0), match()), "bands_untested"),
    "all core bands but one": (
        lambda: only(choke_test(**{name: db for name, db in CORE.items() if name != "b10m"}), match()),
        "bands_untested",
    ),
    "a band left out by a flag": (
        lambda: only(choke_test(unjudged=("15m",), **CORE), match()),
        "bands_untested",
    ),
    "bands that are too close to call": (
        lambda: only(choke_test(close=("40m", "20m"), **CORE), match()),
        "too_close",
    ),
    "good once, too close to call now": (
        lambda: sound(choke_test("t2", 5, close=("40m",), **CORE)),
        "too_close",
    ),
    "a band lost, then another band swept alone": (
        lambda: sound(choke_test("t3", 2, b20m=30.0), choke_test("t2", 5, **CORE | {"b40m": 12.0})),
        "band_lost",
    ),
    "a band lost, then too close to call": (
        lambda: sound(
            choke_test("t3", 2, close=("40m",), **CORE | {"b40m": 19.9}),
            choke_test("t2", 5, **CORE | {"b40m": 12.0}),
        ),
        "band_lost",
    ),
    "a band lost, then called its commissioning": (
        lambda: sound(choke_test("t2", 5, **CORE | {"b40m": 12.0}), baseline="t2"),
        "band_lost",
    ),
    "short, then good, then short again": (
        lambda: only(
            choke_test("t3", 2, **CORE | {"b40m": 12.0}),
            choke_test("t2", 5, **CORE),
            choke_test("t1", 9, **CORE | {"b40m": 12.0}),
            match(),
        ),
        "band_lost",
    ),
    "a core band never met, without a word of commissioning": (
        lambda: only(choke_test(**CORE | {"b10m": 14.0}), match()),
        "short_on_band",
    ),
    "short everywhere, and called its commissioning": (
        lambda: only(choke_test(b40m=12.0), match(), baseline="t1"),
        "short_everywhere",
    ),
    "a loss that was found too high after commissioning": (
        lambda: sound(of_kind("insertion_loss", "l1", 5, b40m=0.9, b20m=0.3), baseline="t1"),
        "short_on_band",
    ),
    "one band new, the others over a year old": (
        lambda: only(choke_test("t2", 5, b40m=30.0), choke_test("t1", 400, **CORE), match()),
        "test_overdue",
    ),
    "much worse than at commissioning": (
        lambda: only(choke_test("t2", 5, **CORE | {"b40m": 21.0}), choke_test("t1", 99, **CORE), match()),
        "drifted",
    ),
    "worse at the antenna than a jumper": (
        lambda: sound(of_kind("in_situ", "i1", 2, "device_makes_it_worse")),
        "worse_in_place",
    ),
    # tests that do not count
    "uncalibrated": (
        lambda: only(choke_test(why_not="Declared uncalibrated.", **CORE), match()),
        "nothing_judged",
    ),
    "left out by a steward": (
        lambda: only(choke_test(why_not="A steward left it out: wrong tag.", **CORE), match()),
        "nothing_judged",
    ),
    "a recipe in doubt": (
        lambda: only(choke_test(why_not="Its curve contradicts its recipe.", **CORE), match()),
        "nothing_judged",
    ),
    "a check standard out of control": (
        lambda: only(GOOD, match(why_not="The check standard was out of control on that day.")),
        "through_path_unknown",
    ),
    "a newer test that waits": (
        lambda: sound(choke_test("t2", 1, why_not="Its curve contradicts its recipe.", **CORE)),
        "newer_not_believed",
    ),
    "a newer load match that does not count": (
        lambda: sound(match("m2", 1, swr=9.0, why_not="Declared uncalibrated.")),
        "newer_not_believed",
    ),
    "a newer test that does not count, against a fault": (
        lambda: sound(
            choke_test("t3", 1, why_not="Declared uncalibrated.", **CORE),
            choke_test("t2", 5, **CORE | {"b40m": 12.0}),
        ),
        "band_lost",
    ),
    # after an event
    "a storm, nothing done": (lambda: after("storm"), "marked_due"),
    "a storm, one item answered": (
        lambda: after("storm", looks=(inspection(1, terminals="ok"),)),
        "marked_due",
    ),
    "a storm, everything looked at and nothing tested": (
        lambda: after("storm", looks=(inspected(1),)),
        "marked_due",
    ),
    "a storm, tested and nothing looked at": (lambda: after("storm", match("m2", 1)), "marked_due"),
    "a storm, a common-mode test in place of the way through": (
        lambda: after("storm", choke_test("t2", 1, **CORE), looks=(inspected(1),)),
        "marked_due",
    ),
    "a storm in the afternoon, looked at that morning": (
        lambda: sound(
            match("m2", 3, recorded_at=at(3, 9)),
            inspections=(inspected(), inspected(3, recorded_at=at(3, 9))),
            marks=(mark("storm", 3, hour=15),),
        ),
        "marked_due",
    ),
    "a storm, and answers entered after it of the day before": (
        lambda: sound(
            match("m2", 4, recorded_at=at(2)),
            inspections=(inspected(), inspected(4, recorded_at=at(2))),
            marks=(mark("storm", 3),),
        ),
        "marked_due",
    ),
    "a drop, its items looked at and one band tested": (
        lambda: after(
            "drop", choke_test("t2", 1, b40m=30.0), match("m2", 1), looks=(inspection(1, **DROP_ITEMS),)
        ),
        "marked_due",
    ),
    "a storm cleared, a drop of the same week not": (
        lambda: sound(
            match("m2", 1),
            inspections=(inspected(), inspection(1, **STORM_ITEMS)),
            marks=(mark("storm", 5), mark("drop", 4)),
        ),
        "marked_due",
    ),
    "lightning, tests that do not count": (
        lambda: after(
            "lightning",
            choke_test("t2", 1, why_not="Declared uncalibrated.", **CORE),
            match("m2", 1),
            looks=(inspected(1),),
        ),
        "marked_due",
    ),
    "moved, looked at without its plugs": (
        lambda: after("move", match("m2", 1), looks=(inspected(1, plug_water="not_looked"),)),
        "marked_due",
    ),
    "marked without an event, one item and one test": (
        lambda: after("other", choke_test("t2", 1, **CORE), looks=(inspection(1, terminals="ok"),)),
        "marked_due",
    ),
    # other devices
    "an unun by common mode alone": (lambda: only(GOOD, **UNUN), "never_tested"),
    "a voltage balun by balance alone": (
        lambda: only(of_kind("balance", **dict.fromkeys(CORE, 0.2)), **VOLTAGE),
        "never_tested",
    ),
    "an unun with a good match and a loss beyond the limit": (
        lambda: only(match(), loss(loss_db=2.0), **UNUN),
        "short_everywhere",
    ),
    "an unun matched on one band": (lambda: only(of_kind("load_match", b40m=1.1), **UNUN), "bands_untested"),
    "out of service for good": (lambda: sound(retired_on=TODAY), "retired"),
    "a build that was never tested, registered today": (
        lambda: judged(registered_on=ago(0)),
        "never_tested",
    ),
}


def test_there_are_enough_of_them():
    assert len(SCENARIOS) >= 40


def test_the_device_that_they_start_from_is_serviceable():
    """Else no scenario could fail."""
    assert sound().state == "serviceable"
    assert only(match(), loss(), **UNUN).state == "serviceable"
    assert only(GOOD, match(), **BALUN4).state == "serviceable"
    assert only(GOOD, readings()).state == "serviceable"


@pytest.mark.parametrize("name", SCENARIOS)
def test_none_is_serviceable_and_the_reason_is_its_own(name: str):
    make, reason = SCENARIOS[name]
    service = make()
    assert service.state != "serviceable", service.reasons
    assert reason in codes(service), service.reasons
    (weight, *_) = [each.weight for each in service.reasons if each.code == reason]
    assert weight != "note"


@pytest.mark.parametrize(
    ("event", "tests", "items"),
    [
        ("storm", (match("m2", 1),), STORM_ITEMS),
        ("drop", (choke_test("t2", 1, **CORE), match("m2", 1)), DROP_ITEMS),
        ("drop", (choke_test("t2", 1, **CORE), readings("d2", 1)), DROP_ITEMS),
        (
            "move",
            (match("m2", 1),),
            dict.fromkeys(("terminals", "strain_relief", "locking", "plug_water"), "ok"),
        ),
    ],
)
def test_what_the_event_names_is_enough(event, tests, items):
    assert after(event, *tests, looks=(inspection(1, **items),)).state == "serviceable"
