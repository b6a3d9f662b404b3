"""The demo goes in one step, and takes what rests on it along; what others stored stays."""

from __future__ import annotations

from datetime import date

import pytest

from measurements.errors import BenchnightError
from measurements.models import (
    Cell,
    Contributor,
    Design,
    Device,
    Member,
    Night,
    ReleaseFilePart,
    Test,
    group_facts,
)
from measurements.services.demo import demo, removal
from measurements.services.demo.demo import SCENARIO
from measurements.services.nights import guests, nights
from measurements.services.releases import releases
from tests import factories, scenes

pytestmark = pytest.mark.usefixtures("reference_data")


demo_group = scenes.share("demo_group", demo.load_demo)


@pytest.fixture
def loaded(demo_group, db):
    group_facts.forget_group_facts()  # the scene may be older than what tests start from
    return factories.member("Own steward", role="steward")


def test_what_is_left_is_what_others_stored(loaded):
    factories.evidence(2)
    names = [person.name for person in SCENARIO.people]
    real = Test.objects.filter(device__contributor__member__name__startswith="person-")
    own_tests = set(real.values_list("key"))
    night = nights.open_night(by=loaded, held_on=date(2026, 3, 14), title="Ours").key
    guests.add_attendee(by=loaded, night=night, name="Real guest")
    releases.make_complete_release()
    assert Cell.objects.exists() and group_facts.has_demo()
    gone = removal.remove_demo(by=loaded)
    assert gone.members == len(SCENARIO.people) and gone.devices > 20 and gone.tests > 30
    assert not Member.objects.filter(name__in=names).exists()
    assert Night.objects.get().key == night
    assert [each.guest_name for each in Contributor.objects.filter(member=None, is_group=False)] == [
        "Real guest"
    ]
    assert own_tests <= set(Test.objects.values_list("key")) and Device.objects.count() == 2
    assert Design.objects.filter(devices=None).count() == 0
    assert not Cell.objects.exists() and not ReleaseFilePart.objects.exists()
    assert not group_facts.has_demo()
    made = releases.make_complete_release()
    assert made.number == 2 and not Cell.objects.exists()  # two people are no evidence
    with pytest.raises(BenchnightError, match="No demo"):
        removal.remove_demo(by=loaded)


def test_a_demo_account_cannot_remove_itself(loaded):
    steward = next(person.name for person in SCENARIO.people if person.role == "steward")
    with pytest.raises(BenchnightError) as refused:
        removal.remove_demo(by=factories.member(steward, role="steward"))
    assert refused.value.code == "demo.own_account" and Device.objects.exists()


def test_only_a_steward_removes_it(loaded):
    with pytest.raises(BenchnightError):
        removal.remove_demo(by=factories.member("Somebody"))
    assert Device.objects.exists()
