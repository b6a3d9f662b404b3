"""The one box finds what its words say, and neither finds nor counts what is somebody else's."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager
from datetime import timedelta
from unittest import mock

import pytest
from django.utils import timezone

from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.models import Device
from measurements.selectors.designs.design_filters import DesignWords
from measurements.selectors.search import search
from measurements.services.designs.designs import read_said_parts
from measurements.services.devices import devices
from tests import club, factories, scenes


def build_group() -> dict[str, object]:
    """Two members with devices of the same names, an operator with a night, a steward."""
    today = timezone.localdate()
    ann, ben = factories.member("Ann"), factories.member("Ben")
    design = factories.design(ann, turns=12)
    other = factories.design(ann, turns=9, style="bifilar", conductor="RG-316")
    keys = {}
    for owner, place in ((ann, "Hill site"), (ben, "Hill mast")):
        key = devices.register_device(by=owner, design=design, tag="HX-7", place=place).key
        keys[owner.name] = key
        keys[f"{owner.name} test"] = factories.record(
            owner, key, factories.choke_s2p(seed=owner.member_id, points=61), measured_on=today
        )
    old = factories.device(ann, other, tag="OLD-1")
    keys["old test"] = factories.record(
        ann, old, factories.choke_s2p(seed=9, points=61), measured_on=today - timedelta(days=400)
    )
    operator = club.operator()
    night = club.night(operator, title="Quarry bench", held_on=today)
    brought = club.guests_device(operator, night, club.guest(operator, night, "Gwenna"), tag="HX-9")
    club.night(club.operator("Olga"), title="Quarry bench two", held_on=today)
    return {
        **keys,
        "ann": ann,
        "ben": ben,
        "operator": operator,
        "steward": factories.member("Cleo", "steward"),
        "night": night,
        "brought": brought,
        "design": design,
        "other": other,
    }


search_group = scenes.share("search_group", build_group)


@pytest.fixture
def group(search_group, db):
    return search_group


@contextmanager
def freeze_day(ahead: int) -> Iterator[None]:
    """Let the box take the day `ahead` days from now for today."""
    today = timezone.localdate() + timedelta(days=ahead)
    with mock.patch.object(search.timezone, "localdate", return_value=today):
        yield


def find(viewer: Viewer, text: str) -> dict[str, tuple[int, list[str]]]:
    groups = search.search_everything(viewer, text, DesignWords(**read_said_parts(text)))
    for each in groups:
        assert each.total >= len(each.hits) > 0
    return {each.what: (each.total, [hit.key for hit in each.hits]) for each in groups}


def test_a_tag_finds_the_own_device_alone(group):
    assert find(group["ann"], "hx-7") == {"device": (1, [group["Ann"]])}
    assert find(group["ben"], "hx-7") == {"device": (1, [group["Ben"]])}
    assert find(group["steward"], "hx-7")["device"][0] == 2
    # a guest's device is the operator's by its night, whose page shows it, and no device of the operator's
    assert "device" not in find(group["operator"], "hx")


def test_a_place_is_found_with_the_own_devices_at_it(group):
    found = find(group["ann"], "hill")
    assert found["place"] == (1, ["Hill site"])
    assert found["device"] == (1, [group["Ann"]])
    assert find(group["steward"], "hill")["place"][0] == 2


@pytest.mark.parametrize("text", ["12t coax", "12 turns FT240-31", "mix 31 12t", "FT240-31 12 turns choke"])
def test_a_design_is_found_as_people_type_it(group, text):
    assert find(ANONYMOUS, text)["design"] == (1, [group["design"]])


@pytest.mark.parametrize("text", ["RG316", "9t bifilar", "2.4 inch mix 31 nine turns", "bifilar"])
def test_another_design_likewise(group, text):
    assert find(ANONYMOUS, text)["design"] == (1, [group["other"]])


def test_a_design_that_fits_one_part_and_not_the_other_is_not_found(group):
    assert "design" not in find(ANONYMOUS, "12t bifilar")
    assert "design" not in find(ANONYMOUS, "12t coax zzz")


def test_cores_and_conductors_are_found(group):
    assert "2631803802" in find(ANONYMOUS, "FT240-31")["part"][1]
    assert find(ANONYMOUS, "RG-316")["part"] == (1, ["RG-316"])


@pytest.mark.parametrize("text", ["today", "today's test", "common mode today", "HX-7 today"])
def test_a_day_finds_the_own_tests_of_it(group, text):
    assert group["Ann test"] in find(group["ann"], text)["test"][1]
    assert group["Ben test"] not in find(group["ann"], text)["test"][1]


def test_a_test_of_long_ago_is_found_by_its_month(group):
    month = f"{timezone.localdate() - timedelta(days=400):%B %Y}"
    assert find(group["ann"], month)["test"] == (1, [group["old test"]])
    assert find(group["ben"], month) == {}


def test_a_test_is_found_by_the_day_it_was_stored_on(group):
    """The old test was measured 400 days ago and sent in today: both days are its days."""
    stored = find(group["ann"], "today")["test"]
    assert set(stored[1]) == {group["Ann test"], group["old test"]}
    with freeze_day(1):
        assert set(find(group["ann"], "yesterday")["test"][1]) == {group["Ann test"], group["old test"]}
        assert "test" not in find(group["ann"], "today")


def test_a_kind_and_a_key_find_tests(group):
    assert find(group["ann"], "common mode")["test"][0] == 2
    assert find(group["ann"], group["Ann test"])["test"] == (1, [group["Ann test"]])
    assert find(group["ben"], group["Ann test"]) == {}
    assert find(group["ann"], group["Ben"]) == {}


def test_nights_are_found_by_who_runs_them(group):
    assert find(group["operator"], "quarry") == {"night": (1, [group["night"]])}
    assert find(group["operator"], "today")["night"] == (1, [group["night"]])
    assert find(group["steward"], "quarry")["night"][0] == 2
    assert find(group["ann"], "quarry") == {}


def test_names_are_found_by_stewards_alone(group):
    assert find(group["steward"], "gwenna")["person"] == (1, ["Gwenna"])
    assert find(group["steward"], "gwenna")["device"] == (1, [group["brought"]])
    assert find(group["steward"], "Ann")["person"][1] == ["Ann"]
    for who in ("ann", "ben", "operator"):
        for name in ("gwenna", "Ann", "Ben"):
            found = find(group[who], name)
            assert "person" not in found and "device" not in found


def test_nobody_finds_rows_of_people_without_an_account(group):
    for text in ("hx-7", "hill", "today", "quarry", "Ann", "common mode", group["Ann"], group["Ann test"]):
        assert set(find(ANONYMOUS, text)) <= {"design", "part"}, text


def test_totals_count_more_than_is_shown(group):
    for number in range(10):
        devices.register_device(by=group["ann"], design=group["design"], tag=f"ROW-{number}")
    total, shown = find(group["ann"], "row-")["device"]
    assert total == 10 and len(shown) == search.MOST_HITS
    assert Device.objects.filter(tag__startswith="ROW").count() == 10


@pytest.mark.parametrize(
    "text", ["", "   ", "\x00", "%", "_", "' OR 1=1", "\\", "x" * 500, "ＦＴ２４０", "🙂"]
)
def test_odd_words_find_nothing_of_others_and_break_nothing(group, text):
    found = find(group["ben"], text)
    assert group["Ann"] not in [key for _, keys in found.values() for key in keys]
