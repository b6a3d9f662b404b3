"""What is written while a release runs: the next one knows of it, and nothing half is published."""

from __future__ import annotations

import random
from concurrent.futures import ThreadPoolExecutor

import pytest
from django.db import connection

from measurements.errors import BenchnightError
from measurements.models import Cell, Test
from measurements.services.reference import reference_files
from measurements.services.releases import design_decisions, releases
from measurements.services.tests import tests
from tests import factories

pytestmark = pytest.mark.django_db(transaction=True)


@pytest.fixture
def two_designs():
    """A published design and one that the next release publishes, where two can write at once."""
    if connection.vendor != "postgresql":
        pytest.skip("SQLite has one writer at a time: a release keeps the others out")
    reference_files.load_reference_data()
    published = factories.evidence(4)
    releases.make_release(rng=random.Random(1))
    return published, factories.evidence(3, turns=10)


def withdraw_one_of(design: str) -> None:
    """From another connection, committed at once."""

    def withdraw():
        test = Test.objects.select_related("device__contributor__member").filter(device__design__key=design)
        found = test.order_by("pk")[0]
        tests.withdraw_test(by=factories.member(found.device.contributor.member.name), test=found.key)
        connection.close()

    with ThreadPoolExecutor(1) as pool:
        pool.submit(withdraw).result()


def once_decided(monkeypatch, then) -> None:
    """Calls `then` after the release has decided about some designs, before it publishes them."""
    decide = design_decisions.decide_groups

    def decide_and_wait(*args):
        decisions = decide(*args)
        then()
        return decisions

    monkeypatch.setattr(design_decisions, "decide_groups", decide_and_wait)


def test_a_withdrawal_meanwhile_is_left_to_the_next_release(two_designs, monkeypatch):
    published, new = two_designs
    with monkeypatch.context() as patched:
        once_decided(patched, lambda: withdraw_one_of(published))
        assert releases.make_release(rng=random.Random(2)).replaced == 1
    made = releases.make_release(rng=random.Random(3))
    assert (made.kept, made.withheld) == (2, 0)  # who leaves darkens nothing
    assert set(Cell.objects.filter(last_release=None).values_list("design__key", flat=True)) == {
        published,
        new,
    }


def test_a_design_that_loses_a_vote_meanwhile_is_not_published_with_what_is_left(two_designs, monkeypatch):
    with monkeypatch.context() as patched:
        once_decided(patched, lambda: withdraw_one_of(two_designs[1]))
        with pytest.raises(BenchnightError, match="withdrawn meanwhile"):
            releases.make_release(rng=random.Random(2))
    assert not Cell.objects.filter(design__key=two_designs[1]).exists()
    made = releases.make_release(rng=random.Random(2))
    assert (made.number, made.empty) == (2, 1)
