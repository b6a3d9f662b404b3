"""Stewards look at flagged tests; what they leave out goes with the next release, and its owner knows why."""

from __future__ import annotations

import pytest

from measurements.errors import BenchnightError
from measurements.models import AuditEntry, Cell, PublishedVote, Result, Test
from measurements.selectors.tests import tests as tests_selectors
from measurements.services.releases import releases
from measurements.services.tests import review
from measurements.services.tests import tests as tests_services
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")
REASON = "The clips were swapped: compare 12 with 13 ohm."


@pytest.fixture
def steward():
    return factories.member("stella", "steward")


@pytest.fixture
def owner():
    return factories.member("Ada")


@pytest.fixture
def stored(owner) -> str:
    return factories.record(owner, factories.device(owner))


def test_an_excluded_test_says_why_to_its_owner_and_not_to_the_log(steward, owner, stored):
    review.exclude_test(by=steward, test=stored, reason=f"  {REASON}\n")
    row = tests_selectors.get_test(owner, stored)
    assert (row.excluded_reason, row.evidence) == (REASON, "left_out")
    entry = AuditEntry.objects.get(action="test.exclude")
    assert (entry.actor, entry.subject, entry.detail) == ("stella", stored, {})
    assert Test.objects.get().reviewed_at is not None


def test_it_leaves_the_evidence_with_the_next_release_and_comes_back(steward):
    design = factories.evidence(5)
    releases.make_release()
    gone = PublishedVote.objects.order_by("test_key").values_list("test_key", flat=True)[:2]
    keys = list(gone)
    for key in keys:
        review.exclude_test(by=steward, test=key, reason=REASON)
    assert Cell.objects.get(last_release=None).devices == 5  # a release does not change
    # three of five alone may not be published: the two would show by subtraction
    assert releases.make_release().withheld == 1
    assert not Cell.objects.filter(design__key=design, last_release=None).exists()
    for key in keys:
        review.include_test(by=steward, test=key)
    releases.make_release()
    assert Cell.objects.get(design__key=design, last_release=None).devices == 5


def test_its_owner_can_withdraw_it_still(steward, owner, stored):
    review.exclude_test(by=steward, test=stored, reason=REASON)
    tests_services.withdraw_test(by=owner, test=stored)
    assert not Test.objects.exists()


def test_of_two_stewards_who_press_at_once_one_is_told(steward, stored):
    review.exclude_test(by=steward, test=stored, reason=REASON)
    with pytest.raises(BenchnightError) as refused:
        review.exclude_test(by=steward, test=stored, reason="another")
    assert (refused.value.code, refused.value.kind) == ("test.excluded_already", "conflict")
    assert Test.objects.get().excluded_reason == REASON
    review.include_test(by=steward, test=stored)
    with pytest.raises(BenchnightError) as refused:
        review.include_test(by=steward, test=stored)
    assert refused.value.code == "test.included_already"
    assert AuditEntry.objects.filter(action="test.include").count() == 1


@pytest.mark.parametrize("reason", ["", "  x ", "a" * 501, "bell \x07 rings", "over\u202eturned"])
def test_a_reason_is_a_line_of_text(steward, stored, reason):
    with pytest.raises(BenchnightError) as refused:
        review.exclude_test(by=steward, test=stored, reason=reason)
    assert (refused.value.code, refused.value.errors[0].field) == ("test.reason", "reason")
    assert Test.objects.get().excluded_at is None


def test_looked_at_is_looked_at(steward, stored):
    review.mark_test_reviewed(by=steward, test=stored)
    assert Test.objects.get().reviewed_at is not None
    assert AuditEntry.objects.filter(action="test.review", subject=stored).exists()


def test_an_unknown_test(steward):
    for write in (
        lambda: review.mark_test_reviewed(by=steward, test="222222222222"),
        lambda: review.exclude_test(by=steward, test="222222222222", reason=REASON),
        lambda: review.include_test(by=steward, test="222222222222"),
    ):
        with pytest.raises(BenchnightError) as refused:
            write()
        assert refused.value.code == "test.not_found"


@pytest.mark.parametrize("role", ["member", "operator"])
def test_only_stewards_review(stored, role):
    somebody = factories.member("mo", role)
    for write in (
        lambda: review.mark_test_reviewed(by=somebody, test=stored),
        lambda: review.exclude_test(by=somebody, test=stored, reason=REASON),
        lambda: review.include_test(by=somebody, test=stored),
    ):
        with pytest.raises(BenchnightError) as refused:
            write()
        assert refused.value.code == "account.stewards_only"
    assert Test.objects.get().reviewed_at is None


def test_results_that_ask_for_a_look_are_marked(owner, stored):
    uncalibrated = factories.record(owner, factories.device(owner, tag="two"), calibrated="false")
    flagged = Result.objects.filter(flagged=True).values_list("test__key", flat=True)
    assert uncalibrated in flagged and stored not in flagged
