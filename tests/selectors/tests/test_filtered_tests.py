"""The list of tests: what a filter finds is what the rows say of themselves, and never somebody else's."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Test
from measurements.selectors.tests import filtered_tests, tests
from measurements.selectors.tests.filtered_tests import TestFilters
from measurements.services.releases import releases
from measurements.services.tests import review
from tests import club, factories, scenes


def build_tests() -> dict[str, object]:
    """Tests of three people in every state, on a night and at home."""
    factories.evidence(6)
    owner, steward = factories.member("person-0"), factories.member("Cleo", "steward")
    releases.make_release()
    device = factories.device(owner, factories.design(owner), tag="X-1")
    for number in range(3):
        factories.record(
            owner,
            device,
            factories.choke_s2p(seed=60 + number, points=61),
            measured_on=date(2026, 3, 1 + number),
            calibrated="true" if number else "false",
        )
    factories.readings(owner, device)
    doubted = factories.record(
        owner, device, factories.choke_s2p(seed=70, points=61), recipe_confirmed="false"
    )
    Test.objects.filter(key=doubted).update(recipe_doubt={"contradicts": True, "causes": []})
    excluded = factories.record(owner, device, factories.choke_s2p(seed=71, points=61))
    review.exclude_test(by=steward, test=excluded, reason="the wrong jig was used")
    operator = club.operator()
    night = club.night(operator)
    brought = club.guests_device(operator, night, club.guest(operator, night))
    club.record(operator, brought, night)
    return {"owner": owner, "steward": steward, "operator": operator, "night": night, "device": device}


tests_in_every_state = scenes.share("tests_in_every_state", build_tests)


@pytest.fixture
def group(tests_in_every_state, db):
    return tests_in_every_state


def keys(viewer: Viewer, **asked: str) -> list[str]:
    rows, count = tests.get_test_page(viewer, TestFilters(**asked), first=0, most=200)
    assert count == len(rows)
    return [row.key for row in rows]


@pytest.mark.parametrize("who", ["owner", "steward", "operator"])
def test_each_filter_finds_the_rows_that_say_so(group, who):
    viewer = group[who]
    rows, _ = tests.get_test_page(viewer, TestFilters(), first=0, most=200)
    says = {
        "counts": lambda row: row.evidence == "counts",
        "left_out": lambda row: row.evidence == "left_out",
        "published": lambda row: row.published,
        "waiting": lambda row: bool(row.waiting) or row.waits_for_recipe,
        "excluded": lambda row: bool(row.excluded_reason),
    }
    assert set(says) == set(filtered_tests.STATES)
    for state, is_so in says.items():
        assert set(keys(viewer, state=state)) == {row.key for row in rows if is_so(row)}, state
    for kind in ("common_mode", "dc", "balance"):
        assert set(keys(viewer, kind=kind)) == {row.key for row in rows if row.kind == kind}
    seen = {flag["code"] for row in rows for flag in row.result["flags"]}
    for code in (*seen, "not_passive"):
        assert set(keys(viewer, flag=code)) == {
            row.key for row in rows if code in [flag["code"] for flag in row.result["flags"]]
        }, code
    for device in {row.device for row in rows}:
        assert set(keys(viewer, device=device)) == {row.key for row in rows if row.device == device}


def test_every_state_is_among_the_tests(group):
    for state in filtered_tests.STATES:
        assert keys(group["steward"], state=state), state
    assert "uncalibrated" in filtered_tests.FLAGS and keys(group["owner"], flag="uncalibrated")


def test_nobody_finds_what_is_somebody_elses(group):
    stranger = factories.member("stranger")
    for asked in ({}, {"night": group["night"]}, {"device": group["device"]}, {"state": "counts"}):
        assert keys(stranger, **asked) == []
    assert len(keys(group["operator"], night=group["night"])) == 1
    assert keys(group["owner"], night=group["night"]) == []
    assert keys(group["operator"], device=group["device"]) == []


@pytest.mark.parametrize("order", filtered_tests.ORDERS)
def test_pages_of_every_order_are_the_whole_list_once(group, order):
    owner, asked = group["owner"], TestFilters(order=order)
    whole, count = tests.get_test_page(owner, asked, first=0, most=200)
    moments = [getattr(row, order.removeprefix("-")) for row in whole]
    assert moments == sorted(moments, reverse=order.startswith("-"))
    by_number = [
        row.key
        for first in range(0, count, 2)
        for row in tests.get_test_page(owner, asked, first=first, most=2)[0]
    ]
    by_cursor, cursor = [], None
    while True:
        page = tests.list_tests(owner, asked=asked, cursor=cursor, limit=2)
        by_cursor += [row.key for row in page.results]
        cursor = page.next_cursor
        if cursor is None:
            break
    assert by_number == by_cursor == [row.key for row in whole]


def test_a_cursor_of_another_order_is_refused(group):
    found = tests.list_tests(group["owner"], asked=TestFilters(order="measured_on"), limit=1)
    for order in ("-measured_on", "-recorded_at"):
        with pytest.raises(BenchnightError) as refused:
            tests.list_tests(
                group["owner"], asked=TestFilters(order=order), cursor=found.next_cursor, limit=1
            )
        assert refused.value.code == "cursor.invalid"


@pytest.mark.parametrize("field", ["kind", "state", "flag", "order"])
def test_a_word_that_is_no_choice_is_refused_by_its_name(group, field):
    with pytest.raises(BenchnightError) as refused:
        keys(group["owner"], **{field: "none"})
    assert (refused.value.code, refused.value.field) == ("filter.unknown", field)
