"""A test goes to the right device, a night's tests to the right person, and back; nobody joins by it."""

from __future__ import annotations

import pytest

from measurements.disclosure.release_rule import list_joiners
from measurements.disclosure.votes import Vote
from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Device, Test
from measurements.services.nights import guests
from measurements.services.tests import moves
from tests import club, factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def by(reference_data):
    return club.operator()


@pytest.fixture
def night(by) -> str:
    return club.night(by, calibrated=True)


def refused(code: str, **given) -> None:
    with pytest.raises(BenchnightError) as caught:
        moves.move_test(**given)
    assert caught.value.code == code, caught.value


def test_an_operator_moves_a_test_on_the_bench_and_undoes_it(by, night):
    design = factories.design(by)
    one = club.guests_device(by, night, club.guest(by, night), design, "G-1")
    other = club.guests_device(by, night, club.guest(by, night, "Petroc"), design, "P-1")
    test = club.record(by, one, night).key
    move = moves.move_test(by=by, test=test, device=other).key
    assert Test.objects.get().device.key == other
    refused("move.same", by=by, test=test, device=other)
    moves.undo_move(by=by, move=move)
    assert Test.objects.get().device.key == one
    with pytest.raises(BenchnightError) as caught:
        moves.undo_move(by=by, move=move)
    assert caught.value.code == "move.undone"
    assert list(AuditEntry.objects.filter(action__contains="move").values_list("action", flat=True)) == [
        "test.move",
        "test.undo_move",
    ]


def test_nobody_moves_what_is_not_theirs(by, night):
    design, ada, ben = factories.design(by), factories.member("Ada"), factories.member("Ben")
    mine, second, theirs = (
        factories.device(who, design, tag) for who, tag in ((ada, "A-1"), (ada, "A-2"), (ben, "B-1"))
    )
    test = club.record(ada, mine, None).key
    guests = club.guests_device(by, night, club.guest(by, night), design, "G-1")
    refused("test.not_found", by=ben, test=test, device=theirs)
    refused("test.not_found", by=by, test=test, device=guests)
    refused("device.not_found", by=ada, test=test, device=theirs)
    refused("device.not_found", by=ada, test=test, device=guests)
    refused("device.not_found", by=by, test=club.record(by, guests, night).key, device=theirs)
    moves.move_test(by=ada, test=test, device=second)
    assert Test.objects.get(key=test).device.key == second


def test_figures_of_another_ratio_and_a_second_copy_stay(by, night):
    ada, plain = factories.member("Ada"), factories.design(by)
    unun = factories.design(by, ratio="4:1", purpose="unun", principle="voltage")
    one, other = factories.device(ada, plain, "A-1"), factories.device(ada, plain, "A-2")
    high = factories.device(ada, unun, "A-3")
    data = factories.choke_s2p(seed=4)
    first, copy = club.record(ada, one, None, data).key, club.record(ada, other, None, data).key
    refused("move.already_there", by=ada, test=first, device=other)
    loss = club.record(ada, one, None, factories.choke_s2p(seed=5), kind="insertion_loss").key
    refused("move.ratio", by=ada, test=loss, device=high)
    assert Test.objects.get(key=copy).device.key == other


def test_a_persons_tests_of_a_night_go_to_another_person_and_back(by, night):
    design, earlier = factories.design(by), club.night(by, title="April bench")
    gwenna, petroc = club.guest(by, night), club.guest(by, night, "Petroc")
    new = club.guests_device(by, night, gwenna, design, "G-1")
    club.record(by, new, night, factories.choke_s2p(seed=1))
    old = club.guests_device(by, earlier, club.guest(by, earlier, "Senara"), design, "S-1")
    before = club.record(by, old, earlier, factories.choke_s2p(seed=2)).key
    club.record(by, old, night, factories.choke_s2p(seed=3))
    move = moves.move_person_tests(by=by, night=night, giver=gwenna, receiver=petroc).key
    assert Device.objects.get(key=new).contributor.guest_name == "Petroc"
    with pytest.raises(BenchnightError) as caught:
        moves.move_person_tests(by=by, night=night, giver=gwenna, receiver=petroc)
    assert caught.value.code == "move.nothing"
    moves.undo_move(by=by, move=move)
    assert Device.objects.get(key=new).contributor.guest_name == "Gwenna"
    assert Test.objects.get(key=before).device.key == old


def test_a_device_with_a_past_keeps_it(by, night):
    design, earlier = factories.design(by), club.night(by, title="April bench")
    club.guest(by, earlier)
    first = club.guests_device(by, earlier, earlier_guest(by, earlier), design, "G-1")
    before = club.record(by, first, earlier, factories.choke_s2p(seed=2)).key
    here = moves_guest(by, night)
    club.record(by, first, night, factories.choke_s2p(seed=3))
    move = moves.move_person_tests(
        by=by, night=night, giver=here, receiver=club.guest(by, night, "Petroc")
    ).key
    assert Test.objects.get(key=before).device.contributor.guest_name == "Gwenna"
    moved = Test.objects.exclude(key=before).get()
    assert (moved.device.contributor.guest_name, moved.device.tag) == ("Petroc", "G-1")
    moves.undo_move(by=by, move=move)
    assert Test.objects.filter(device__key=first).count() == 2


def earlier_guest(by, night) -> str:
    return guests.add_attendee(by=by, night=night, name="Gwenna").key


def moves_guest(by, night) -> str:
    return guests.add_attendee(by=by, night=night, name="Gwenna", same_person=True).key


def test_a_test_that_moved_makes_its_new_owner_no_joiner():
    """A figure that was published under one person joins nothing under another (own reckoning)."""
    past = [frozenset(Vote(person, f"device-{person}", f"test-{person}") for person in "abc")]
    moved = Vote("x", "device-x", "test-a")
    fresh = [Vote(person, f"device-{person}", f"test-{person}") for person in "de"]
    assert list_joiners(frozenset([moved, *fresh]), past, {}) == {"d", "e"}
    assert len(list_joiners(frozenset([Vote("x", "device-x", "test-x"), *fresh]), past, {})) == 3
