"""A group in a pool: what leaves at its release, what never does, and the copy that it shows."""

from __future__ import annotations

import base64
import gzip
import json

import pytest

from measurements.errors import BenchnightError
from measurements.models import (
    Cell,
    Contributor,
    Device,
    KeptRecord,
    PoolCopy,
    PoolCopyRow,
    PoolSeat,
    SentVote,
    Test,
)
from measurements.services.accounts import membership
from measurements.services.designs import designs
from measurements.services.devices import contributors
from measurements.services.pooling import copies, keeper_groups, seats, sendings
from measurements.services.pooling.keeper_releases import make_pooled_release
from measurements.services.releases.releases import make_release
from measurements.services.tests import tests
from tests import factories
from tests.services.pooling import loopback
from tests.services.pooling.invented_groups import ADDRESS, build_design, invent_groups

pytestmark = pytest.mark.django_db


@pytest.fixture
def seat(settings):
    settings.BENCHNIGHT_GROUP_NAME = "Harbour club"
    steward = factories.member("Stew", "steward")
    invitation = str(keeper_groups.invite_group(by=None, address=ADDRESS, name="Harbour club"))
    loopback.posted.clear()
    return seats.join_pool(by=steward, invitation=invitation, post=loopback.post)


def build(name: str, *, takes_part: bool = True, turns: int = 12, peak_ohm: float = 3000.0, seed: int = 1):
    """A member with a device and its test; the member and the test's key."""
    member = factories.member(name)
    seats.choose_pool(by=member, takes_part=takes_part)
    design = factories.design(member, turns=turns)
    device = factories.device(member, design, tag=f"TAG-{name}")
    return member, factories.record(member, device, factories.choke_s2p(peak_ohm, seed=seed))


def read_sent() -> dict:
    """What the last posted envelope says."""
    return json.loads(gzip.decompress(base64.b64decode(json.loads(loopback.posted[-1][1])["content"])))


def send() -> sendings.SendingCounts:
    return sendings.send_votes(post=loopback.post)


# Joining.


def test_an_invitation_is_one_line_and_joins_once(seat):
    assert (seat.keeper_address, seat.group_name) == (ADDRESS, "Harbour club")
    again = str(keeper_groups.invite_group(by=None, address=ADDRESS, name="Again"))
    with pytest.raises(BenchnightError, match="in a pool already"):
        seats.join_pool(by=factories.member("Stew", "steward"), invitation=again, post=loopback.post)


@pytest.mark.parametrize(
    "line",
    ["", "https://keeper.example", f"ftp://keeper.example#{'a' * 64}.{'2' * 24}", f"#{'a' * 64}.{'2' * 24}"],
)
def test_a_line_that_is_no_invitation_is_refused(line):
    with pytest.raises(BenchnightError):
        seats.join_pool(by=factories.member("Stew", "steward"), invitation=line, post=loopback.post)
    assert not PoolSeat.objects.exists()


def test_a_keeper_with_another_key_than_the_invitations_is_not_believed():
    made = keeper_groups.invite_group(by=None, address=ADDRESS, name="Club")
    line = f"{ADDRESS}#{'ab' * 32}.{made.code}"
    with pytest.raises(BenchnightError):
        seats.join_pool(by=factories.member("Stew", "steward"), invitation=line, post=loopback.post)
    assert not PoolSeat.objects.exists()


# What leaves.


def test_nothing_leaves_of_a_member_who_did_not_choose_it(seat):
    """Until somebody chooses, and after choosing against it."""
    undecided = factories.member("Undecided")
    factories.record(undecided, factories.device(undecided), factories.choke_s2p(seed=7))
    build("Silent", takes_part=False, seed=8)
    build("Open")
    assert send().new == 1
    assert SentVote.objects.count() == 1


def test_a_record_holds_figures_classes_and_pseudonyms_alone(seat):
    _, test = build("Gwenna-Canary")
    Device.objects.update(notes="NOTE-CANARY", place="PLACE-CANARY")
    send()
    content = read_sent()
    (vote,) = content["votes"]
    assert set(vote) == {
        "recipe_sha256", "kind", "person", "device", "vote", "bands", "u", "curve", "quarter",
    }  # fmt: skip
    assert (vote["quarter"], vote["u"] in ("quarter", "half", "whole")) == ("2026-Q1", True)
    known = json.dumps(content)
    row, device = Test.objects.get(key=test), Device.objects.get()
    secrets = [
        "Canary", "CANARY", "TAG-", "sweep.s2p", test, device.key, device.contributor.key,
        row.measured_on.isoformat(), row.content_sha256, "invented",
    ]  # fmt: skip
    assert not [secret for secret in secrets if secret in known]
    # in steps of 0.1 dB: no figure of the sweep itself
    assert all(round(figure * 10) == pytest.approx(figure * 10) for figure in vote["bands"].values())


def test_a_person_has_another_pseudonym_in_each_design(seat):
    member, _ = build("Two", turns=10)
    factories.record(
        member,
        factories.device(member, factories.design(member, turns=11), tag="B"),
        factories.choke_s2p(seed=2),
    )
    send()
    one, other = read_sent()["votes"]
    assert not {one["person"], one["device"], one["vote"]} & {other["person"], other["device"], other["vote"]}


def test_a_persons_devices_of_a_design_have_one_pseudonym(seat):
    member, _ = build("Two")
    second = factories.device(member, factories.design(member), tag="B")
    factories.record(member, second, factories.choke_s2p(seed=2))
    send()
    one, other = read_sent()["votes"]
    assert one["person"] == other["person"] and one["device"] != other["device"]


def test_sent_again_it_changes_nothing_and_withdrawn_it_is_withdrawn(seat):
    member, test = build("Open")
    first = send()
    before = read_sent()
    second = send()
    assert read_sent()["votes"] == before["votes"]
    assert (first.new, second.new, second.unchanged, second.number) == (1, 0, 1, first.number)
    tests.withdraw_test(by=member, test=test)
    third = send()
    assert (third.new, third.withdrawn, third.number) == (0, 1, first.number + 1)
    assert not KeptRecord.objects.filter(withdrawn=False).exists()


def test_who_chooses_against_it_later_is_withdrawn_at_the_next_sending(seat):
    member, _ = build("Open")
    send()
    seats.choose_pool(by=member, takes_part=False)
    assert send().withdrawn == 1


def test_who_leaves_the_group_is_withdrawn_at_the_next_sending(seat):
    member, _ = build("Open")
    send()
    membership.delete_account(by=member, name=member.name)
    assert send().withdrawn == 1


def test_a_set_that_the_group_published_goes_whole_or_not_at_all(seat):
    people = [build(f"P{n}", seed=n) for n in range(3)]
    make_release(files=False)
    assert Cell.objects.count() == 1
    build("Later", seed=9)
    send()
    content = read_sent()
    assert len(content["votes"]) == 3
    assert [len(each["votes"]) for each in content["sets"]] == [3]
    seats.choose_pool(by=people[0][0], takes_part=False)
    assert send().withdrawn == 3
    assert read_sent()["votes"] == []


def test_a_release_that_publishes_another_set_than_was_sent_waits(seat):
    """Two were sent. One more joins at home: three persons, but one of them alone is new to everybody."""
    build("A", seed=1)
    build("B", seed=2)
    send()
    build("C", seed=3)
    make_release(files=False)
    assert not Cell.objects.exists()
    build("D", seed=4)
    build("E", seed=5)
    make_release(files=False)
    assert Cell.objects.get().contributors == 5


def test_without_the_sent_votes_it_would_have_been_published():
    for n, name in enumerate("ABC"):
        build(name, seed=n)
    make_release(files=False)
    assert Cell.objects.get().contributors == 3


def test_a_keeper_out_of_reach_is_noted_and_nothing_is_lost(seat):
    build("Open")
    assert sendings.try_to_send(post=loopback.lose) is None
    assert PoolSeat.objects.get().last_problem
    assert sendings.try_to_send(post=loopback.post).new == 1
    assert PoolSeat.objects.get().last_problem == ""


def test_leaving_withdraws_everything(seat):
    build("Open")
    send()
    steward = factories.member("Stew", "steward")
    with pytest.raises(BenchnightError):
        seats.leave_pool(by=steward, post=loopback.lose)
    assert PoolSeat.objects.get().is_open
    seats.leave_pool(by=steward, post=loopback.post)
    assert not PoolSeat.objects.get().is_open
    assert not KeptRecord.objects.filter(withdrawn=False).exists()
    with pytest.raises(BenchnightError, match="in no pool"):
        send()


# The copy.


def pool_with_others(turns: int = 12) -> None:
    """Three invented groups with two persons each send the same design; then a pooled release is made."""
    for group in invent_groups(3):
        for worst_db in (25.0, 27.0):
            group.build(build_design(turns), worst_db)
        group.send()
    make_pooled_release()


def test_the_first_fetch_says_what_the_group_gained(seat):
    build("Only", peak_ohm=9000.0)
    send()
    pool_with_others()
    copy = copies.fetch_release(get=loopback.get)
    assert copy.gained == {"before": 0, "now": 1, "listed": 1}
    design = designs.preview_design(factories.recipe())
    row = PoolCopyRow.objects.get(recipe_sha256=design.sha256, band="40m")
    assert row.figures["groups"] == 4 and row.figures["verdict"] == "typically_meets"
    assert copies.fetch_release(get=loopback.get) is None


def test_a_newer_release_takes_the_place_of_the_copy(seat):
    pool_with_others()
    copies.fetch_release(get=loopback.get)
    make_pooled_release()
    assert copies.fetch_release(get=loopback.get).number == 2
    assert PoolCopy.objects.count() == 1


def test_nothing_is_taken_that_the_keeper_did_not_sign(seat):
    pool_with_others()

    def changed(name):
        def get(address):
            content = loopback.get(address)
            return content.replace(b"typically_meets", b"mixed") if name in address else content

        return get

    def unsigned(address):
        return b"00" * 64 if address.endswith(".sig/") else loopback.get(address)

    def rewritten(address):
        content = loopback.get(address)
        return (
            content.replace(b'"version": "1"', b'"version": "2"') if "package.json/" in address else content
        )

    for get in (changed("evidence.csv"), unsigned, rewritten, lambda _: b"{}", lambda _: b"\xff"):
        with pytest.raises(BenchnightError):
            copies.fetch_release(get=get)
    assert not PoolCopy.objects.exists()


def test_an_older_release_does_not_replace_a_newer_copy(seat):
    pool_with_others()
    make_pooled_release()
    copies.fetch_release(get=loopback.get)

    def old(address):
        return b'{"release": 1}' if "latest" in address else loopback.get(address)

    assert copies.fetch_release(get=old) is None
    assert PoolCopy.objects.get().number == 2


def test_a_plain_host_carries_the_files_under_plain_names(seat):
    pool_with_others()
    PoolSeat.objects.update(source="https://files.example/pool")
    asked = []

    def get(address):
        asked.append(address)
        return loopback.get(address)

    assert copies.fetch_release(get=get).number == 1
    assert asked[0] == "https://files.example/pool/latest.json"
    assert asked[-1] == "https://files.example/pool/1/evidence.csv"


def test_two_accounts_that_are_one_person_become_one_at_the_next_sending(seat):
    build("One", seed=1)
    build("Other", seed=2)
    send()
    assert len({vote["person"] for vote in read_sent()["votes"]}) == 2
    contributors.join_persons(*Contributor.objects.order_by("pk"))
    send()
    assert len({vote["person"] for vote in read_sent()["votes"]}) == 1
