"""The yearly inspection asks for every item that applies, shows it, and says what is left (trade.md 10)."""

from __future__ import annotations

from datetime import timedelta

from django.utils import timezone

from measurements.fitness.checklist import CHECKLIST_ITEMS
from measurements.selectors.upkeep import service_states
from tests import factories
from tests.pages import markup
from tests.pages.conftest import signed_in

CODES = [item.code for item in CHECKLIST_ITEMS]
TODAY = timezone.now().date()


def list_asked(member, device: str) -> list[str]:
    return [item.item for item in service_states.get_service_state(member, device).items if item.asked]


def test_a_new_device_is_asked_for_everything_with_a_picture_of_each(reference_data):
    member = factories.member("walter")
    device = factories.device(member)
    page = signed_in(member).get(f"/devices/{device}/inspect/")
    assert f"Asked for this time: {len(CODES)} of {len(CODES)} items" in markup.words(page.content)
    shown = [each.attrs["src"] for each in markup.read(page.content).all("img")
             if "/guide/drawings/inspection." in each.attrs["src"]]  # fmt: skip
    assert [src.split("inspection.")[1].split(".svg")[0] for src in shown] == CODES


def test_what_is_left_out_is_named_after_saving_and_asked_again(reference_data):
    member = factories.member("walter")
    device = factories.device(member)
    given = {code: "ok" for code in CODES if code not in ("core", "insects")}
    owner = signed_in(member)
    sent = {"inspected_on": TODAY.isoformat(), **given}
    words = markup.words(owner.post(f"/devices/{device}/inspect/", sent, follow=True).content)
    assert "Still asked for: core, insects." in words
    assert list_asked(member, device) == ["core", "insects"]
    assert "Asked for this time: 2 of 11 items" in markup.words(
        owner.get(f"/devices/{device}/inspect/").content
    )


def test_a_year_later_all_that_apply_are_asked_and_no_other(reference_data):
    member = factories.member("walter")
    device = factories.device(member)
    states = dict.fromkeys(CODES, "ok") | {"insects": "does_not_apply", "locking": "does_not_apply"}
    factories.look(member, device, TODAY - timedelta(days=5), **states)
    assert list_asked(member, device) == []
    other = factories.device(member, tag="OTHER-1")
    factories.look(member, other, TODAY - timedelta(days=400), **states)
    assert list_asked(member, other) == [code for code in CODES if code not in ("insects", "locking")]


def test_what_was_to_be_watched_is_asked_again_at_once(reference_data):
    member = factories.member("walter")
    device = factories.device(member)
    factories.look(member, device, TODAY - timedelta(days=5), **dict.fromkeys(CODES, "ok"))
    factories.look(member, device, TODAY - timedelta(days=2), core="watch", moisture="fault")
    assert list_asked(member, device) == ["moisture", "core"]
