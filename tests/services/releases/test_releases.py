"""A release publishes what the disclosure rule allows, without identity, and keeps the rest as it was."""

from __future__ import annotations

import random

import numpy as np
import pytest
from django.db import transaction

from measurements.models import Cell, PublishedVote, Release, Result, Test
from measurements.services.reference import group_settings
from measurements.services.releases import releases
from measurements.services.tests import recomputation, tests
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


def make() -> releases.ReleaseCounts:
    return releases.make_release(rng=random.Random(4))


def test_the_first_release_of_an_empty_database():
    made = make()
    assert (made.number, made.replaced) == (1, 0)
    assert Release.objects.get().counts["designs"] == 0


def test_three_contributors_make_a_cell_and_two_do_not():
    few, enough = factories.evidence(2, turns=8), factories.evidence(3, turns=12)
    made = make()
    assert (made.replaced, made.empty) == (1, 1)
    cell = Cell.objects.get()
    assert cell.design.key == enough != few
    assert (cell.devices, cell.contributors) == (3, 3)
    worst = np.frombuffer(cell.worst_db, "<f4").reshape(3, -1)
    rows = worst[:, cell.bands.index("40m")]
    # by hand, at 7.0 MHz: 3000 ohm beside +2785j and -5684j is about 2300 + 1260j, 28.2 dB; noise, spread
    assert all(27 < value < 30 for value in rows)


def test_a_contributor_with_many_devices_is_one_contributor_with_three_votes():
    key = factories.evidence(1, devices_each=5)
    factories.evidence(2, first=1)
    make()
    cell = Cell.objects.get(design__key=key)
    assert (cell.devices, cell.contributors) == (5, 3)  # 3 of the 5, and 1 each of the others


def test_a_private_test_is_no_vote_until_its_owner_publishes_it():
    """Whatever is computed of it meanwhile."""
    key = factories.evidence(3)
    test = Test.objects.select_related("device__contributor__member").filter(device__design__key=key).first()
    owner = factories.member(test.device.contributor.member.name)
    tests.set_privacy(by=owner, test=test.key, private=True)
    Result.objects.filter(test=test).update(engine_version="0.0.1", counts_as_evidence=False)
    recomputation.recompute_stale_tests()
    assert Result.objects.get(
        test=test, current=True
    ).counts_as_evidence  # nothing is against it but the choice
    assert make().empty == 1
    tests.set_privacy(by=owner, test=test.key, private=False)
    assert make().replaced == 1


def test_two_newcomers_change_nothing_and_three_do():
    key = factories.evidence(3)
    make()
    before = Cell.objects.get(design__key=key)
    factories.evidence(2, first=3)
    made = make()
    assert (made.kept, made.replaced) == (1, 0)
    assert Cell.objects.get(design__key=key).pk == before.pk
    factories.evidence(1, first=5)
    assert make().replaced == 1
    old, new = Cell.objects.filter(design__key=key).order_by("first_release")
    assert (old.first_release, old.last_release) == (1, 2)
    assert (new.first_release, new.last_release, new.devices) == (3, None, 6)


def test_who_leaves_darkens_nothing():
    key = factories.evidence(4)
    make()
    test = Test.objects.select_related("device__contributor__member").first()
    tests.withdraw_test(by=factories.member(test.device.contributor.member.name), test=test.key)
    made = make()
    assert (made.withheld, made.replaced, made.kept) == (0, 0, 1)
    assert Cell.objects.filter(design__key=key, last_release=None).exists()


def test_the_same_content_has_the_same_hash_and_new_salts():
    factories.evidence(3)
    make()
    releases.make_release()
    first, second = Release.objects.order_by("number")
    assert first.content_sha256 == second.content_sha256
    assert bytes(first.salt) != bytes(second.salt)


def test_evidence_tables_hold_no_identity():
    """By construction: no column of theirs leads to a person, a device, a test or a file."""
    factories.evidence(3)
    make()
    related = {f.related_model.__name__ for f in Cell._meta.concrete_fields if f.related_model}
    assert related <= {"Design"}
    votes = PublishedVote.objects.values_list("test_key", flat=True)
    stored = " ".join(str(row) for row in Cell.objects.values())
    assert not [key for key in votes if key in stored]


def test_a_lower_cap_of_votes_is_stated_once_no_older_cell_is_left():
    """Readers reckon from it how many people there are at least: 3 votes under a cap of 1 would be three."""
    steward = factories.member("stella", "steward")
    key = factories.evidence(1, devices_each=3)
    factories.evidence(2, first=1)
    make()
    group_settings.change_group_setting(by=steward, name="votes_per_contributor", value=1)
    assert make().kept == 1
    assert Cell.objects.get(design__key=key, last_release=None).devices == 5
    assert Release.objects.get(number=2).thresholds["votes_per_contributor"] == 3
    factories.evidence(3, first=3)
    assert make().replaced == 1
    assert Cell.objects.get(design__key=key, last_release=None).devices == 6  # of six people now
    assert Release.objects.get(number=3).thresholds["votes_per_contributor"] == 1


def first_cell() -> tuple[list[tuple[float, ...]], list[str]]:
    """What a first release publishes of the one design, without keeping it."""
    with transaction.atomic():
        make()
        cell = Cell.objects.get()
        transaction.set_rollback(True)
    figures = np.frombuffer(bytes(cell.worst_db), "<f4").reshape(-1, len(cell.bands))
    return sorted(map(tuple, figures.tolist())), cell.bands


@pytest.mark.parametrize("lacking", [1, 4])
def test_results_of_before_anything_was_kept_are_published_the_same(lacking):
    factories.evidence(4)
    kept = first_cell()
    older = list(Result.objects.values_list("pk", flat=True)[:lacking])
    Result.objects.filter(pk__in=older).update(published=None)
    assert first_cell() == kept
