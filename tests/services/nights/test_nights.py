"""A night is its operators' and stewards': they open, change and close it, and see what was brought to it."""

from __future__ import annotations

from datetime import date, timedelta

import pytest
from django.utils import timezone

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Contributor, Night
from measurements.selectors.devices import devices as devices_selectors
from measurements.selectors.nights import nights as nights_selectors
from measurements.selectors.tests import tests as tests_selectors
from measurements.selectors.upkeep import listed_devices
from measurements.services.accounts import membership
from measurements.services.devices import attendance
from measurements.services.nights import guests
from measurements.services.nights import nights as nights_services
from measurements.services.tests import tests as tests_services
from tests import club, factories

pytestmark = pytest.mark.usefixtures("reference_data")


def refused(code: str, function, /, **given) -> BenchnightError:
    with pytest.raises(BenchnightError) as caught:
        function(**given)
    assert caught.value.code == code, caught.value.code
    return caught.value


def test_an_operator_opens_a_night_and_reads_it_back():
    by = club.operator()
    key = nights_services.open_night(
        by=by,
        held_on=club.HELD_ON,
        title="  May \n bench ",
        instrument="two-port analyser",
        jig="clips on a plate",
        calibrated=True,
        resistors="47 to 470 ohm, 1 %, 0.6 W",
    ).key
    row = nights_selectors.get_night(by, key)
    assert (row.title, row.held_on, row.calibrated, row.version) == ("May bench", club.HELD_ON, True, 1)
    assert (row.operators, row.opened_by, row.closed_at) == (("Osric",), "Osric", None)
    assert [found.key for found in nights_selectors.list_nights(by).results] == [key]
    assert AuditEntry.objects.filter(action="night.open", subject=key).count() == 1


@pytest.mark.parametrize("role", ["member", "operator", "steward", "anonymous"])
def test_who_may_know_of_a_night(role):
    key = club.night(club.operator())
    viewer = ANONYMOUS if role == "anonymous" else factories.member("Other", role)
    if role == "steward":
        assert nights_selectors.get_night(viewer, key).key == key
        assert len(nights_selectors.list_nights(viewer).results) == 1
        return
    code = {
        "member": "account.operators_only",
        "operator": "night.not_found",
        "anonymous": "sign_in.required",
    }[role]
    refused(code, nights_selectors.get_night, viewer=viewer, key=key)
    refused(code, nights_services.update_night, by=viewer, night=key, version=1, title="x")
    refused(code, guests.add_attendee, by=viewer, night=key, name="Gwenna")
    refused(code, nights_services.set_night_jig, by=viewer, night=key, uploads={})
    if role == "operator":
        assert nights_selectors.list_nights(viewer).results == ()
        unknown = refused(code, nights_selectors.get_night, viewer=viewer, key="nosuchnight2")
        assert str(unknown) == "There is no such night of yours."


def test_members_open_no_night():
    refused(
        "account.operators_only", nights_services.open_night, by=factories.member("Ada"), held_on=club.HELD_ON
    )


def test_a_second_operator_runs_it_too_and_loses_it_with_the_role():
    by, other = club.operator(), club.operator("Ysolde")
    key = club.night(by)
    nights_services.add_night_operator(by=by, night=key, name="Ysolde")
    assert nights_selectors.get_night(other, key).operators == ("Osric", "Ysolde")
    demoted = factories.member("Ysolde", "member")
    refused("account.operators_only", nights_selectors.get_night, viewer=demoted, key=key)
    factories.member("Ada")
    for nobody in ("Ada", "Nobody"):
        refused("night.operator", nights_services.add_night_operator, by=by, night=key, name=nobody)


def test_a_change_needs_the_newest_version():
    by = club.operator()
    key = club.night(by)
    assert (
        nights_services.update_night(by=by, night=key, version=1, title="June bench", calibrated=False) == 2
    )
    refused("night.stale", nights_services.update_night, by=by, night=key, version=1, title="Again")
    assert nights_selectors.get_night(by, key).title == "June bench"
    refused("night.unknown_field", nights_services.update_night, by=by, night=key, version=2, opened_by=1)


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
        f"night.{field}",
        nights_services.open_night,
        by=club.operator(),
        **{"held_on": club.HELD_ON, field: value},
    )
    assert fault.field == field
    assert not Night.objects.exists()


def test_a_closed_night_takes_nothing_until_it_is_opened_again():
    by = club.operator()
    key = club.night(by)
    device = club.guests_device(by, key, club.guest(by, key))
    assert nights_services.close_night(by=by, night=key, version=1) == 2
    refused("night.closed", guests.add_attendee, by=by, night=key, name="Late")
    refused("night.closed", nights_services.set_night_jig, by=by, night=key, uploads=club.jig())
    refused("night.closed", club.record, by=by, device=device, night_key=key)
    nights_services.reopen_night(by=by, night=key, version=2)
    assert club.record(by, device, key).created


def test_the_same_name_on_the_same_night_is_the_same_guest():
    by = club.operator()
    first, second = club.night(by), club.night(by)
    key = club.guest(by, first, "Gwenna  Moor")
    assert club.guest(by, first, "gwenna moor") == key
    fault = refused("guest.known_name", guests.add_attendee, by=by, night=second, name="Gwenna Moor")
    assert fault.kind == "conflict"
    for same, count in ((True, 1), (False, 2)):
        third = club.night(by)
        guests.add_attendee(by=by, night=third, name="gwenna moor", same_person=same)
        assert Contributor.objects.filter(guest_name__iexact="gwenna moor").count() == count
    (row,) = nights_selectors.get_night(by, first).contributors
    assert (row.name, row.is_guest, row.devices, row.has_code) == ("Gwenna Moor", True, 0, False)


def test_a_name_does_not_tell_whether_it_has_an_account():
    by = club.operator()
    ada, gone = factories.member("Ada"), factories.member("Gone")
    device = factories.device(ada, tag="A-1")
    membership.suspend_member(by=factories.member("Stew", "steward"), name=gone.name)
    key = club.night(by)
    answers = []
    for name in ("Ada", "Nobody", "Gone"):
        person = guests.add_attendee(by=by, night=key, name=name)
        row = next(row for row in nights_selectors.get_night(by, key).contributors if row.name == name)
        made = club.guests_device(by, key, person.key, factories.design(by), tag="A-1")
        code = guests.issue_claim_code(by=by, night=key, contributor_key=person.key)
        asked = attendance.request_device(by=by, night=key, name=name, tag="A-1")
        answers.append((person.created, row.is_guest, row.devices, len(made), len(code), len(asked)))
    assert answers[0] == answers[1] == answers[2]
    assert {row.tests for row in nights_selectors.list_night_devices(by, key)} == {0}
    assert device not in {row.key for row in nights_selectors.list_night_devices(by, key)}
    assert [row.key for row in listed_devices.list_devices(ada).results] == [device]


@pytest.mark.parametrize("name", ["", "   ", "x" * 65, "a\x07b"])
def test_a_guest_needs_a_name(name):
    by = club.operator()
    refused("guest.name", guests.add_attendee, by=by, night=club.night(by), name=name)


def test_operators_see_the_tests_of_their_night_and_not_those_made_at_home():
    by, ada = club.operator(), factories.member("Ada")
    key = club.night(by)
    device = factories.device(ada, tag="A-1")
    at_home = factories.record(ada, device, factories.choke_s2p(seed=5))
    made = club.record(by, device, key).key
    assert tests_selectors.get_test(by, made).night == key
    refused("test.not_found", tests_selectors.get_test, viewer=by, key=at_home)
    refused("test.not_found", tests_selectors.get_sweep_file, viewer=by, key=at_home, role="sweep")
    assert [row.key for row in tests_selectors.list_tests(by).results] == [made]
    assert {row.key for row in tests_selectors.list_tests(ada).results} == {made, at_home}
    on_bench = devices_selectors.get_device_on_bench(by, device)
    assert on_bench.tests == 1  # not how many were made at home
    assert devices_selectors.get_device(ada, device).tests == 2
    (row,) = nights_selectors.list_night_devices(by, key)
    assert (row.tag, row.owner, row.tests, [t.key for t in row.newest]) == ("A-1", "", 1, [made])
    for test in (made, at_home):
        refused("test.not_found", tests_services.withdraw_test, by=by, test=test)
    tests_services.withdraw_test(by=ada, test=made)


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
        refused("device.not_found", devices_selectors.get_device, viewer=viewer, key=device)
        refused("test.not_found", tests_selectors.get_test, viewer=viewer, key=made)
    assert devices_selectors.get_device_on_bench(by, device).owner == "Gwenna"
    assert devices_selectors.get_device(factories.member("Stew", "steward"), device).owner == "Gwenna"
