"""A night is its operators' and stewards': they open, change and close it, and see what was brought to it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from measurements.disclosure.circles import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.ingest import brought, devices, guests, nights, tests
from measurements.models import AuditEntry, Night, Test
from measurements.queries import devices as device_rows
from measurements.queries import nights as night_rows
from measurements.queries import tests as test_rows
from tests import factories
from tests.ingest import club

pytestmark = pytest.mark.usefixtures("reference_data")


def refused(code: str, function, /, **given) -> BenchnightError:
    with pytest.raises(BenchnightError) as caught:
        function(**given)
    assert caught.value.code == code, caught.value.code
    return caught.value


def test_an_operator_opens_a_night_and_reads_it_back():
    by = club.operator()
    key = nights.open_night(
        by=by,
        held_on=club.HELD_ON,
        title="  May \n bench ",
        instrument="two-port analyser",
        jig="clips on a plate",
        calibrated=True,
        resistors="47 to 470 ohm, 1 %, 0.6 W",
    ).key
    row = night_rows.one(by, key)
    assert (row.title, row.held_on, row.calibrated, row.version) == ("May bench", club.HELD_ON, True, 1)
    assert (row.operators, row.opened_by, row.closed_at) == (("Osric",), "Osric", None)
    assert [found.key for found in night_rows.listing(by).results] == [key]
    assert AuditEntry.objects.filter(action="night.open", subject=key).count() == 1


@pytest.mark.parametrize("role", ["member", "operator", "steward", "anonymous"])
def test_who_may_know_of_a_night(role):
    key = club.night(club.operator())
    viewer = ANONYMOUS if role == "anonymous" else factories.member("Other", role)
    if role == "steward":
        assert night_rows.one(viewer, key).key == key
        assert len(night_rows.listing(viewer).results) == 1
        return
    code = {
        "member": "account.operators_only",
        "operator": "night.not_found",
        "anonymous": "sign_in.required",
    }[role]
    refused(code, night_rows.one, viewer=viewer, key=key)
    refused(code, nights.change, by=viewer, night=key, version=1, title="x")
    refused(code, guests.welcome, by=viewer, night=key, name="Gwenna")
    refused(code, nights.set_jig, by=viewer, night=key, uploads={})
    if role == "operator":
        assert night_rows.listing(viewer).results == ()
        unknown = refused(code, night_rows.one, viewer=viewer, key="nosuchnight2")
        assert str(unknown) == "There is no such night of yours."


def test_members_open_no_night():
    refused("account.operators_only", nights.open_night, by=factories.member("Ada"), held_on=club.HELD_ON)


def test_a_second_operator_runs_it_too_and_loses_it_with_the_role():
    by, other = club.operator(), club.operator("Ysolde")
    key = club.night(by)
    nights.add_operator(by=by, night=key, name="Ysolde")
    assert night_rows.one(other, key).operators == ("Osric", "Ysolde")
    demoted = factories.member("Ysolde", "member")
    refused("account.operators_only", night_rows.one, viewer=demoted, key=key)
    factories.member("Ada")
    for nobody in ("Ada", "Nobody"):
        refused("night.operator", nights.add_operator, by=by, night=key, name=nobody)


def test_a_change_needs_the_newest_version():
    by = club.operator()
    key = club.night(by)
    assert nights.change(by=by, night=key, version=1, title="June bench", calibrated=False) == 2
    refused("night.stale", nights.change, by=by, night=key, version=1, title="Again")
    assert night_rows.one(by, key).title == "June bench"
    refused("night.unknown_field", nights.change, by=by, night=key, version=2, opened_by=1)


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ("title", "x" * 121),
        ("instrument", "a\x00b"),
        ("notes", "x" * 4001),
        ("held_on", date(1985, 1, 1)),
        ("held_on", timezone.now().date() + timedelta(days=400)),
        ("calibrated", "maybe"),
    ],
)
def test_faulty_fields_are_named(field, value):
    fault = refused(
        f"night.{field}", nights.open_night, by=club.operator(), **{"held_on": club.HELD_ON, field: value}
    )
    assert fault.field == field
    assert not Night.objects.exists()


def test_a_closed_night_takes_nothing_until_it_is_opened_again():
    by = club.operator()
    key = club.night(by)
    device = club.guests_device(by, key, club.guest(by, key))
    assert nights.close(by=by, night=key, version=1) == 2
    refused("night.closed", guests.welcome, by=by, night=key, name="Late")
    refused("night.closed", nights.set_jig, by=by, night=key, uploads=club.jig())
    refused("night.closed", club.record, by=by, device=device, night_key=key)
    nights.reopen(by=by, night=key, version=2)
    assert club.record(by, device, key).created


def test_the_same_name_on_the_same_night_is_the_same_guest():
    by = club.operator()
    first, second = club.night(by), club.night(by)
    key = club.guest(by, first, "Gwenna  Moor")
    assert club.guest(by, first, "gwenna moor") == key
    assert club.guest(by, second, "Gwenna Moor") != key
    (row,) = night_rows.one(by, first).contributors
    assert (row.name, row.is_guest, row.devices, row.has_code) == ("Gwenna Moor", True, 0, False)


def test_the_name_of_an_account_is_that_member():
    by, ada = club.operator(), factories.member("Ada")
    key = club.night(by)
    person = guests.welcome(by=by, night=key, name="ada")
    assert person.created
    (row,) = night_rows.one(by, key).contributors
    assert (row.name, row.is_guest) == ("Ada", False)
    device = club.guests_device(by, key, person.key, tag="A-7")
    assert device_rows.one(ada, device).owner == "Ada"


@pytest.mark.parametrize("name", ["", "   ", "x" * 65, "a\x07b"])
def test_a_guest_needs_a_name(name):
    by = club.operator()
    refused("guest.name", guests.welcome, by=by, night=club.night(by), name=name)


def test_operators_see_the_devices_brought_and_no_other_of_their_owner():
    by, ada = club.operator(), factories.member("Ada")
    stranger = club.operator("Ysolde")
    design = factories.design(ada)
    here, at_home = factories.device(ada, design, "A-1"), factories.device(ada, design, "A-2")
    key = club.night(by)
    attendee = club.guest(by, key, "Ada")
    refused("device.not_found", device_rows.one, viewer=by, key=here)
    refused("device.not_found", brought.bring, by=by, night=key, contributor=attendee, tag="A-9")
    assert brought.bring(by=by, night=key, contributor=attendee, tag="a-1").key == here
    assert device_rows.one(by, here).owner == "Ada"
    assert [row.key for row in device_rows.listing(by).results] == [here]
    devices.change(by=by, device=here, version=1, notes="re-tagged on the night")
    for device in (at_home,):
        refused("device.not_found", device_rows.one, viewer=by, key=device)
        refused("device.not_found", devices.change, by=by, device=device, version=1, notes="x")
    refused("device.not_found", device_rows.one, viewer=stranger, key=here)
    assert device_rows.listing(stranger).results == ()


def test_operators_see_the_tests_of_their_night_and_not_those_made_at_home():
    by, ada = club.operator(), factories.member("Ada")
    key = club.night(by)
    device = factories.device(ada, tag="A-1")
    at_home = factories.record(ada, device, factories.choke_s2p(seed=5))
    made = club.record(by, device, key).key
    assert test_rows.one(by, made).night == key
    refused("test.not_found", test_rows.one, viewer=by, key=at_home)
    refused("test.not_found", test_rows.sweep, viewer=by, key=at_home, role="sweep")
    refused("test.not_found", tests.withdraw, by=by, test=at_home)
    assert [row.key for row in test_rows.listing(by).results] == [made]
    assert {row.key for row in test_rows.listing(ada).results} == {made, at_home}
    assert device_rows.one(by, device).tests == 1  # not how many were made at home
    assert device_rows.one(ada, device).tests == 2
    (row,) = night_rows.devices_of(by, key)
    assert (row.tag, row.owner, row.tests, [t.key for t in row.newest]) == ("A-1", "Ada", 1, [made])
    tests.withdraw(by=by, test=made)
    assert not Test.objects.filter(key=made).exists()


def test_without_the_night_an_operator_records_nothing_of_others():
    by, ada = club.operator(), factories.member("Ada")
    night = club.night(by)
    device = factories.device(ada)
    refused("device.not_found", club.record, by=by, device=device, night_key=None)
    guests = club.guests_device(by, night, club.guest(by, night))
    refused("test.night_missing", club.record, by=by, device=guests, night_key=None)
    assert club.record(by, guests, night).created
    other_night = club.night(club.operator("Ysolde"))
    refused("night.not_found", club.record, by=by, device=device, night_key=other_night)
    refused("account.operators_only", club.record, by=ada, device=device, night_key=other_night)


def test_the_same_tag_of_the_same_guest_is_a_conflict():
    by = club.operator()
    key = club.night(by)
    guest = club.guest(by, key)
    club.guests_device(by, key, guest)
    fault = refused("device.tag_taken", club.guests_device, by=by, night_key=key, attendee=guest)
    assert fault.kind == "conflict"


def test_guests_are_nobody_elses_to_see():
    by, ada = club.operator(), factories.member("Ada")
    key = club.night(by)
    device = club.guests_device(by, key, club.guest(by, key))
    made = club.record(by, device, key).key
    for viewer in (ada, club.operator("Ysolde")):
        refused("device.not_found", device_rows.one, viewer=viewer, key=device)
        refused("test.not_found", test_rows.one, viewer=viewer, key=made)
    assert device_rows.one(by, device).owner == "Gwenna"
    assert device_rows.one(factories.member("Stew", "steward"), device).owner == "Gwenna"
