"""The pages of the pool: a steward joins in one form, sees what was gained, and each member chooses."""

from __future__ import annotations

import pytest
from django.test import Client

from measurements.models import Member, PoolSeat
from measurements.pages.pooling.presenters import write_offsets
from measurements.services.pooling import copies, keeper_groups, seats, sendings, transport
from measurements.services.pooling.keeper_releases import make_pooled_release
from tests import factories
from tests.pages.conftest import signed_in
from tests.services.pooling import loopback
from tests.services.pooling.invented_groups import ADDRESS, build_design, invent_groups

pytestmark = pytest.mark.django_db


@pytest.fixture(autouse=True)
def keeper(monkeypatch, settings):
    """A keeper that this server reaches without a network."""
    settings.BENCHNIGHT_GROUP_NAME = "Harbour club"
    monkeypatch.setattr(transport, "post", loopback.post)
    monkeypatch.setattr(transport, "get", loopback.get)


def invite() -> str:
    return str(keeper_groups.invite_group(by=None, address=ADDRESS, name="Harbour club"))


def publish() -> None:
    for group in invent_groups(4):
        for worst_db in (25.0, 27.0):
            group.build(build_design(), worst_db)
        group.send()
    make_pooled_release()


def test_a_steward_joins_with_one_line_and_two_presses_and_sees_what_was_gained():
    """One page, one field to fill in (the name is there already), then one press to fetch."""
    steward = factories.member("Stew", "steward")
    factories.design(steward)
    publish()
    client = signed_in(steward)
    shown = client.get("/steward/pool/").content.decode()
    assert "Harbour club" in shown and "good for one group" in shown
    form = {"act": "join", "invitation": invite(), "group_name": "Harbour club"}
    joined = client.post("/steward/pool/", form, follow=True).content.decode()
    assert "The group is in the pool" in joined and PoolSeat.objects.get().is_open
    fetched = client.post("/steward/pool/", {"act": "fetch"}, follow=True).content.decode()
    assert "Fetched: 1 designs with a verdict, 0 before." in fetched
    assert "1 design with a verdict, 0 before." in fetched


def test_a_wrong_invitation_is_refused_beside_its_field():
    client = signed_in(factories.member("Stew", "steward"))
    answer = client.post("/steward/pool/", {"act": "join", "invitation": "x", "group_name": "Harbour club"})
    assert answer.status_code == 422 and "Paste the whole line" in answer.content.decode()
    assert not PoolSeat.objects.exists()


def test_a_keeper_out_of_reach_is_a_sentence(monkeypatch):
    client = signed_in(factories.member("Stew", "steward"))
    line = invite()
    monkeypatch.setattr(transport, "post", loopback.lose)
    answer = client.post("/steward/pool/", {"act": "join", "invitation": line, "group_name": "Harbour club"})
    assert "cannot be reached now" in answer.content.decode()
    assert not PoolSeat.objects.exists()


def test_what_the_keeper_says_of_the_benches_is_for_stewards():
    seats.join_pool(by=None, invitation=invite())
    row = {"kind": "common_mode", "band": "10m", "offset": 1.5, "low": 1.0, "high": 2.0, "certain": True}
    PoolSeat.objects.update(standing={"offsets": [row], "set_aside": True, "release": 1})
    shown = signed_in(factories.member("Stew", "steward")).get("/steward/pool/").content.decode()
    assert "Your bench reads 1.5 dB high on 10m" in shown and "set this group aside" in shown
    assert signed_in(factories.member("Mem")).get("/steward/pool/").status_code == 403


def test_only_certain_offsets_are_sentences():
    row = {"kind": "common_mode", "band": "40m", "offset": -2.0, "low": -3.0, "high": -1.0}
    (said,) = write_offsets([{**row, "certain": True}, {**row, "band": "20m", "certain": False}])
    assert said.startswith("Your bench reads 2 dB low on 40m") and "(95 %: 1 to 3 dB)" in said


def test_a_member_chooses_and_changes_it():
    member = factories.member("Mem")
    client = signed_in(member)
    assert "Nothing of you goes to the pool." in client.get("/account/pool/").content.decode()
    answer = client.post("/account/pool/", {"takes_part": "yes"}, follow=True)
    assert "Your votes go to the pool." in answer.content.decode()
    assert Member.objects.get(name="Mem").in_pool
    client.post("/account/pool/", {"takes_part": "no"})
    assert not Member.objects.get(name="Mem").in_pool


def test_a_design_says_in_this_group_and_in_four_groups():
    member = factories.member("Mem")
    design = factories.design(member)
    before = Client().get(f"/designs/{design}/").content.decode()
    assert "In this group" not in before
    publish()
    seats.join_pool(by=None, invitation=invite())
    copies.fetch_release()
    for client in (Client(), signed_in(member)):
        shown = client.get(f"/designs/{design}/").content.decode()
        assert "In 4 groups" in shown and "In this group" in shown
    # the copy stays when the keeper is gone
    assert "In 4 groups" in Client().get(f"/designs/{design}/").content.decode()
    # another benchmark than the pool's is no question to it
    assert "In 4 groups" not in Client().get(f"/designs/{design}/?benchmark_db=25").content.decode()


def test_leaving_is_said():
    seats.join_pool(by=None, invitation=invite())
    sendings.send_votes()
    client = signed_in(factories.member("Stew", "steward"))
    answer = client.post("/steward/pool/", {"act": "leave"}, follow=True).content.decode()
    assert "The group left the pool." in answer and not PoolSeat.objects.get().is_open
