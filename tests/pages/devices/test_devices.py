"""Own devices."""

from __future__ import annotations

from django.test import Client

from measurements.selectors.devices import devices
from measurements.selectors.upkeep import listed_devices
from tests.pages import markup
from tests.pages.conftest import Group


def test_the_list_holds_own_devices_only(owner: Client, stranger: Client, group: Group):
    assert "QX-TAG-77" in markup.words(owner.get("/devices/").content)
    words = markup.words(stranger.get("/devices/").content)
    assert "QX-TAG-77" not in words and "You have no device here yet" in words


def test_a_device_shows_its_tests(owner: Client, group: Group):
    content = owner.get(f"/devices/{group.device}/").content
    assert [each for each in markup.read(content).all("a") if each.attrs["href"] == f"/tests/{group.test}/"]
    assert "counts as evidence" in markup.words(content)
    assert markup.read(content).one("a", href=f"/upload/?device={group.device}")


def test_changing_it(owner: Client, group: Group):
    given = {
        "version": "1",
        "tag": "New tag",
        "origin": "commercial",
        "built_on": "2025-02-03",
        "notes": "mine",
    }
    answer = owner.post(f"/devices/{group.device}/change/", given)
    assert answer.status_code == 302
    row = devices.get_device(group.owner, group.device)
    assert (row.tag, row.origin, str(row.built_on), row.notes) == (
        "New tag",
        "commercial",
        "2025-02-03",
        "mine",
    )


def test_a_stale_change_is_refused_and_nothing_typed_is_lost(owner: Client, group: Group):
    given = {"version": "7", "tag": "New tag", "origin": "homebrew", "built_on": "", "notes": "long words"}
    answer = owner.post(f"/devices/{group.device}/change/", given)
    assert answer.status_code == 422
    assert "Somebody changed this device meanwhile" in markup.words(answer.content)
    assert "long words" in answer.content.decode()
    assert devices.get_device(group.owner, group.device).tag == "QX-TAG-77"


def test_a_tag_that_is_taken_is_said_beside_the_tag(owner: Client, group: Group):
    other = next(row for row in listed_devices.list_devices(group.owner).results if row.key != group.device)
    given = {"version": "1", "tag": other.tag, "origin": "homebrew", "built_on": "", "notes": ""}
    answer = owner.post(f"/devices/{group.device}/change/", given)
    assert answer.status_code == 422
    assert markup.read(answer.content).one("input", name="tag").attrs["aria-invalid"] == "true"


def test_a_steward_sees_whose_it_is(group: Group):
    from tests.pages.conftest import signed_in

    words = markup.words(signed_in(group.steward).get(f"/devices/{group.device}/").content)
    assert "Device of person-0" in words
