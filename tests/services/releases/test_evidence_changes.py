"""No way of writing passes by the notes that a release goes by: held against a look at everything."""

from __future__ import annotations

import random
from datetime import date

import pytest
from django.core.management import CommandError, call_command
from django.db import connection, transaction
from django.utils import timezone

from measurements.migrations import _evidence_triggers
from measurements.models import (
    Cell,
    Contributor,
    Design,
    Device,
    EvidenceChange,
    MovedDevice,
    PublishedVote,
    Release,
    ReleaseFile,
    Result,
    Test,
    group_settings,
)
from measurements.services.accounts import membership
from measurements.services.designs import merging
from measurements.services.devices import devices
from measurements.services.nights import guests, nights
from measurements.services.reference import band_plan, benchmarks
from measurements.services.releases import decision_marks, evidence_changes, releases
from measurements.services.tests import recomputation, review, tests
from tests import club, factories

pytestmark = pytest.mark.usefixtures("reference_data")
SOURCE = "Decision of the spring meeting"


@pytest.fixture
def released():
    """Two designs with evidence, released: (the one that something happens to, the other)."""
    keys = factories.evidence(4), factories.evidence(3, turns=10)
    releases.make_release(rng=random.Random(1))
    assert noted() == evidence_changes.EvidenceChanges()
    return keys


def noted() -> evidence_changes.EvidenceChanges:
    return evidence_changes.get_noted_changes(Release.objects.order_by("-number").first())


def decided(changes: evidence_changes.EvidenceChanges) -> set[str]:
    """The designs that a release with these changes decides about."""
    planned = decision_marks.plan_decisions(group_settings.get_release_thresholds(), changes)
    designs = [design for some in planned.groups for design in some]
    return set(Design.objects.filter(pk__in=designs).values_list("key", flat=True))


def first_test(design: str) -> Test:
    rows = Test.objects.select_related("device__contributor__member")
    return rows.filter(device__design__key=design).order_by("pk").first()


def owner_of(design: str):
    return factories.member(first_test(design).device.contributor.member.name)


def steward():
    return factories.member("stella", "steward")


def withdraw(design: str) -> None:
    tests.withdraw_test(by=owner_of(design), test=first_test(design).key)


def exclude(design: str) -> None:
    review.exclude_test(by=steward(), test=first_test(design).key, reason="The jig was open.")


def exclude_and_take_back(design: str) -> None:
    exclude(design)
    releases.make_release(rng=random.Random(2))
    review.include_test(by=steward(), test=first_test(design).key)


def retest(design: str) -> None:
    factories.record(owner_of(design), first_test(design).device.key, factories.choke_s2p(seed=77))


def claim(design: str) -> None:
    operator = factories.member("Olga", "operator")
    night = club.night(operator)
    guest = club.guest(operator, night)
    device = club.guests_device(operator, night, guest, design)
    club.record(operator, device, night, factories.choke_s2p(seed=50))
    releases.make_release(rng=random.Random(2))
    code = guests.issue_claim_code(by=operator, night=night, contributor_key=guest)
    guests.claim_guest_devices(by=factories.member("Ada"), code=code)


def record_on_a_night(design: str) -> None:
    operator = factories.member("Olga", "operator")
    night = club.night(operator)
    device = club.guests_device(operator, night, club.guest(operator, night), design)
    club.record(operator, device, night, factories.choke_s2p(seed=50))
    nights.close_night(by=operator, night=night, version=1)


def leave(design: str) -> None:
    person = owner_of(design)
    membership.delete_account(by=person, name=person.name)


def compute_again(design: str) -> None:
    of_design = Result.objects.filter(test__device__design__key=design)
    of_design.update(engine_version="0.0.1")
    recomputation.recompute_stale_tests()


def move(design: str) -> None:
    other = Design.objects.exclude(key=design).get()
    Device.objects.filter(pk=first_test(design).device_id).update(design=other, version=2)


def move_and_withdraw(design: str) -> None:
    test = first_test(design)
    move(design)
    releases.make_release(rng=random.Random(2))
    test.delete()


def move_back(design: str) -> None:
    device = first_test(design).device_id
    move(design)
    releases.make_release(rng=random.Random(2))
    Device.objects.filter(pk=device).update(design=Design.objects.get(key=design))


def move_the_test(design: str) -> None:
    other = Device.objects.exclude(design__key=design).first()
    Test.objects.filter(pk=first_test(design).pk).update(device=other)


def merge(design: str) -> None:
    other = Design.objects.exclude(key=design).get()
    merging.merge_designs(by=steward(), design=design, into=other.key)


def give_away(design: str) -> None:
    other = Contributor.objects.create(guest_name="G")
    Device.objects.filter(pk=first_test(design).device_id).update(contributor=other)


def delete_the_device(design: str) -> None:
    Device.objects.get(pk=first_test(design).device_id).delete()


def doubt(design: str) -> None:
    Result.objects.filter(test=first_test(design)).update(counts_as_evidence=False)


# what a decision rests on: the design has to be decided again
CHANGES = {
    "a test of somebody else": lambda design: factories.evidence(1, first=7),
    "a device tested again": retest,
    "a test of a guest on a club night": record_on_a_night,
    "a test withdrawn": withdraw,
    "a test left out by a steward": exclude,
    "a test taken in again": exclude_and_take_back,
    "an account deleted": leave,
    "a guest's devices claimed": claim,
    "figures computed again": compute_again,
    "a result that counts no more": doubt,
    "a device of another design": move,
    "a device of another design, its test withdrawn": move_and_withdraw,
    "a device back in its design": move_back,
    "a test of another device": move_the_test,
    "a device of somebody else": give_away,
    "a device deleted": delete_the_device,
    "a design merged into another": merge,
}


def rename(design: str) -> None:
    device = Device.objects.get(pk=first_test(design).device_id)
    devices.update_device(by=owner_of(design), device=device.key, version=device.version, tag="other")


def suspend(design: str) -> None:
    membership.suspend_member(by=steward(), name=owner_of(design).name)


def change_a_band(design: str) -> None:
    band_plan.change_band(
        by=steward(), band="80m", start_hz=3.5e6, stop_hz=3.75e6, valid_from=date(2027, 4, 1), source=SOURCE
    )


def change_a_limit(design: str) -> None:
    benchmarks.change_benchmark(
        by=steward(), kind="load_match", metric="swr", value=1.3, as_of=timezone.now().date(), source=SOURCE
    )


# what none rests on: nothing has to be decided again
OTHERS = {
    "nothing": lambda design: None,
    "a design without tests": lambda design: factories.design(steward(), turns=20),
    "a device without tests": lambda design: factories.device(steward(), design, "new"),
    "a device's tag": rename,
    "a test looked at": lambda design: review.mark_test_reviewed(by=steward(), test=first_test(design).key),
    "an account suspended": suspend,
    "a band": change_a_band,
    "a limit": change_a_limit,
}


@pytest.mark.parametrize("change", CHANGES)
def test_what_a_decision_rests_on_is_noted(released, change):
    CHANGES[change](released[0])
    assert not noted().everything
    assert releases.count_missed_changes() == 0
    assert decided(noted())
    assert decided(noted()) >= decided(evidence_changes.EVERYTHING)
    releases.make_release(rng=random.Random(9))
    assert releases.count_missed_changes() == 0
    assert not EvidenceChange.objects.exists()


@pytest.mark.parametrize("change", OTHERS)
def test_what_none_rests_on_costs_nothing(released, change):
    OTHERS[change](released[0])
    assert not noted().everything
    assert releases.count_missed_changes() == 0
    assert decided(noted()) == decided(evidence_changes.EVERYTHING) == set()


@pytest.mark.parametrize("change", [*CHANGES, *OTHERS])
def test_both_looks_publish_the_same(released, change):
    {**CHANGES, **OTHERS}[change](released[0])
    made = []
    for changes in (noted(), evidence_changes.EVERYTHING):
        with transaction.atomic():
            if changes.everything:
                EvidenceChange.objects.create()
            releases.make_release(rng=random.Random(9))
            stands = Cell.objects.filter(last_release=None).values_list("design__key", "content_sha256")
            emptied = ReleaseFile.objects.filter(withdrawn=True).values_list("release_id", "name", "circle")
            made.append((sorted(stands), sorted(emptied)))
            transaction.set_rollback(True)
    assert made[0] == made[1]


def test_devices_that_moved_before_there_were_notes_are_found(released):
    move(released[0])
    releases.make_release(rng=random.Random(2))
    MovedDevice.objects.all().delete()
    assert releases.count_missed_changes() == 1  # the two designs, to be decided together
    releases.make_release(rng=random.Random(3))
    assert decided(noted()) == set(released)
    assert releases.count_missed_changes() == 0


def test_a_device_that_never_voted_is_forgotten(released):
    device = factories.device(steward(), released[0], "new")
    other = Design.objects.get(key=released[1])
    Device.objects.filter(key=device).update(design=other)
    assert MovedDevice.objects.get().device_key == device
    releases.make_release(rng=random.Random(2))
    assert not MovedDevice.objects.exists()


def test_a_change_without_a_note_is_found_and_the_next_release_looks_at_everything(released, capsys):
    withdraw(released[0])
    EvidenceChange.objects.all().delete()
    with pytest.raises(CommandError, match="were not noted"):
        call_command("release", "--check")
    assert noted() == evidence_changes.EVERYTHING
    call_command("release", "--check")  # nothing is passed by now
    assert "everything that has changed" in capsys.readouterr().out
    assert releases.make_release(rng=random.Random(2)).withheld == 1
    assert ReleaseFile.objects.filter(release=1, name="evidence.csv", withdrawn=True).exists()


def test_rows_may_go_and_come_in_any_order(released):
    test = first_test(released[0])
    result = Result.objects.get(test=test)
    test.sweeps.all().delete()
    with connection.cursor() as cursor:
        cursor.execute("DELETE FROM measurements_device WHERE id = %s", [test.device_id])
        cursor.execute("DELETE FROM measurements_test WHERE id = %s", [test.pk])
        cursor.execute("DELETE FROM measurements_result WHERE id = %s", [result.pk])
    assert noted() == evidence_changes.EvidenceChanges(
        frozenset({Design.objects.get(key=released[0]).pk}), frozenset({test.key})
    )
    assert releases.count_missed_changes() == 0
    EvidenceChange.objects.all().delete()
    result.save(force_insert=True)
    test.save(force_insert=True)
    test.device.save(force_insert=True)
    assert released[0] in decided(noted())
    assert releases.count_missed_changes() == 0


def test_a_vote_of_somebody_else_is_noted(released):
    PublishedVote.objects.filter(cell__design__key=released[0]).update(contributor_key="x")
    assert decided(noted()) == {released[0]}


class TestALookAtEverything:
    def test_comes_before_the_first_release(self, db):
        assert noted() == evidence_changes.EVERYTHING

    def test_comes_now_and_then(self, released, monkeypatch):
        monkeypatch.setattr(evidence_changes, "WHOLE_EVERY", 1)
        assert noted() == evidence_changes.EVERYTHING

    def test_comes_with_another_engine(self, released, monkeypatch):
        monkeypatch.setattr(evidence_changes, "ENGINE_VERSION", "99.0.0")
        assert noted() == evidence_changes.EVERYTHING

    def test_comes_with_another_region(self, released, settings):
        settings.BENCHNIGHT_REGION = 3
        assert noted() == evidence_changes.EVERYTHING

    def test_comes_with_other_thresholds(self, released, settings):
        settings.BENCHNIGHT_MIN_CHANGES = 3
        assert decided(noted()) == set(released)
        assert releases.count_missed_changes() == 0

    def test_comes_where_a_trigger_is_missing(self, released):
        name, table, *_ = _evidence_triggers.TRIGGERS[0]
        with connection.cursor() as cursor:
            where = f" ON {table}" if connection.vendor == "postgresql" else ""
            cursor.execute(f"DROP TRIGGER {name}{where}")
        assert noted() == evidence_changes.EVERYTHING

    def test_comes_where_much_has_changed(self, released, monkeypatch):
        monkeypatch.setattr(evidence_changes, "MANY", 1)
        withdraw(released[0])
        assert not noted().everything
        withdraw(released[1])
        assert noted() == evidence_changes.EVERYTHING


def test_every_trigger_is_known_and_on(db):
    assert sorted(name for name, *_ in _evidence_triggers.TRIGGERS) == sorted(evidence_changes.TRIGGERS)
    assert evidence_changes._triggers_are_on()
