"""What stewards look at: the queue, the log, accounts, and what may be one and the same."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.selectors.accounts import members
from measurements.selectors.designs import merge_candidates
from measurements.selectors.operations import audit as audit_selectors
from measurements.selectors.operations.audit import AuditFilter
from measurements.selectors.tests import review as review_selectors
from measurements.services.accounts import access_tokens, membership
from measurements.services.designs import merging
from measurements.services.operations import audit as audit_services
from measurements.services.tests import review as review_services
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")
NEAR = {"outer_mm": 62.0, "inner_mm": 36.1, "height_mm": 12.9}  # 1.6 % off the listed 61.0/35.55/12.7


@pytest.fixture
def steward():
    return factories.member("stella", "steward")


def keys(page) -> list[str]:
    return [row.key for row in page.results]


def test_the_queue_holds_what_is_flagged_until_somebody_looked(steward):
    ada = factories.member("Ada")
    device = factories.device(ada)
    fine = factories.record(ada, device)
    first, second, third = (
        factories.record(ada, device, factories.choke_s2p(seed=seed), calibrated="false")
        for seed in (2, 3, 4)
    )
    assert keys(review_selectors.list_reviews(steward)) == [third, second, first]
    row = review_selectors.get_review(steward, third)
    assert (row.owner, row.device_tag, row.counts) == ("Ada", "C-1", False)
    assert [flag["code"] for flag in row.flags] == ["uncalibrated"]
    review_services.mark_test_reviewed(by=steward, test=first)
    review_services.exclude_test(by=steward, test=fine, reason="not of this device")
    assert keys(review_selectors.list_reviews(steward)) == [third, second]
    assert keys(review_selectors.list_reviews(steward, "excluded")) == [fine]
    assert keys(review_selectors.list_reviews(steward, "reviewed")) == [first]
    assert review_selectors.count_reviews(steward) == {"open": 2, "excluded": 1, "reviewed": 1}
    page = review_selectors.list_reviews(steward, limit=1)
    assert keys(page) == [third]
    assert keys(review_selectors.list_reviews(steward, limit=1, cursor=page.next_cursor)) == [second]


@pytest.mark.parametrize("tests", [2, 8])
def test_the_queue_asks_the_database_as_often_for_many_as_for_few(steward, django_assert_num_queries, tests):
    ada = factories.member("Ada")
    device = factories.device(ada)
    for seed in range(tests):
        factories.record(ada, device, factories.choke_s2p(seed=seed, points=51), calibrated="false")
    with django_assert_num_queries(2):
        assert len(review_selectors.list_reviews(steward).results) == tests


def test_the_log_is_filtered_and_paged(steward):
    ada = factories.member("Ada")
    for number in range(5):
        audit_services.record_action(by=ada, action="demo.write", subject=f"thing-{number}", number=number)
    audit_services.record_action(by=steward, action="demo.other", subject="thing-1")
    rows = audit_selectors.list_audit_rows(steward, AuditFilter(actor="Ada")).results
    assert [row.subject for row in rows] == [f"thing-{number}" for number in (4, 3, 2, 1, 0)]
    assert rows[0].detail == {"number": 4}
    assert len(audit_selectors.list_audit_rows(steward, AuditFilter(subject="thing-1")).results) == 2
    assert len(audit_selectors.list_audit_rows(steward, AuditFilter(action="demo.")).results) == 6
    today = timezone.now().date()
    assert (
        len(
            audit_selectors.list_audit_rows(
                steward, AuditFilter(action="demo.", since=today, until=today)
            ).results
        )
        == 6
    )
    for apart in ({"since": today + timedelta(days=1)}, {"until": today - timedelta(days=1)}):
        assert audit_selectors.list_audit_rows(steward, AuditFilter(action="demo.", **apart)).results == ()
    seen, cursor = [], None
    for _ in range(3):
        page = audit_selectors.list_audit_rows(steward, AuditFilter(actor="Ada"), cursor=cursor, limit=2)
        seen += [row.subject for row in page.results]
        cursor = page.next_cursor
    assert cursor is None and seen == [f"thing-{number}" for number in (4, 3, 2, 1, 0)]


def test_accounts_say_what_they_are_signed_in_with(steward, django_assert_num_queries):
    ada = factories.member("Ada", "operator")
    factories.device(ada)
    access_tokens.issue_token(name="Ada", days=1)
    membership.reissue_sign_in_link(by=steward, name="Ada")
    with django_assert_num_queries(5):  # accounts, devices, tokens, links, second factors
        rows = {row.name: row for row in members.list_members(steward).results}
    row = rows["Ada"]
    assert (row.role, row.active, row.has_password, row.devices, row.tokens) == (
        "operator",
        True,
        False,
        1,
        1,
    )
    assert row.link_until is not None and rows["stella"].link_until is None
    assert [row.name for row in members.list_members(steward, text="ad").results] == ["Ada"]
    page = members.list_members(steward, limit=1)
    assert [row.name for row in page.results] == ["Ada"]
    assert [row.name for row in members.list_members(steward, limit=1, cursor=page.next_cursor).results] == [
        "stella"
    ]
    assert members.count_stewards(steward) == 1


def test_designs_that_may_be_one_are_found_and_others_are_not(steward):
    listed = factories.design(steward, turns=12, conductor="RG-316")
    near = factories.design(steward, turns=12, conductor="RG-316", **NEAR)
    left_open = factories.design(steward, turns=12)
    for apart in (
        {"turns": 11, **NEAR},
        {"mix": "43", **NEAR},
        {"style": "bifilar", **NEAR},
        {"outer_mm": 66.0, "inner_mm": 36.1, "height_mm": 12.9, "conductor": "RG-316"},
    ):
        factories.design(steward, **apart)
    found = {(row.design, row.into): row.differs for row in merge_candidates.list_merge_pairs(steward)}
    assert found == {
        (near, listed): "core size 1.6 % apart",
        (left_open, listed): "conductor left open",
        (near, left_open): "conductor left open, core size 1.6 % apart",
    } or found == {
        (near, listed): "core size 1.6 % apart",
        (left_open, listed): "conductor left open",
        (left_open, near): "conductor left open, core size 1.6 % apart",
    }
    merging.merge_designs(by=steward, design=near, into=listed)
    assert near not in {
        key for row in merge_candidates.list_merge_pairs(steward) for key in (row.design, row.into)
    }


def test_typed_sizes_near_a_listed_core_are_found(steward):
    for turns in (11, 12):
        factories.design(steward, turns=turns, **NEAR)
    factories.design(steward, turns=12, mix="43", outer_mm=99.0, inner_mm=50.0, height_mm=20.0)
    (row,) = merge_candidates.list_typed_cores(steward)
    assert (row.outer_mm, row.inner_mm, row.height_mm, row.mix, row.designs) == (62.0, 36.1, 12.9, "31", 2)
    assert row.near[0].part == "2631803802" and row.near[0].off_percent == pytest.approx(1.64, abs=0.01)


@pytest.mark.parametrize("role", ["member", "operator"])
def test_only_stewards_see_them(role):
    somebody = factories.member("mo", role)
    for read in (
        lambda: review_selectors.list_reviews(somebody),
        lambda: review_selectors.count_reviews(somebody),
        lambda: review_selectors.get_review(somebody, "222222222222"),
        lambda: audit_selectors.list_audit_rows(somebody),
        lambda: members.list_members(somebody),
        lambda: members.get_member(somebody, "mo"),
        lambda: members.count_stewards(somebody),
        lambda: merge_candidates.list_merge_pairs(somebody),
        lambda: merge_candidates.list_typed_cores(somebody),
        lambda: merge_candidates.get_merge_design(somebody, "222222222222"),
    ):
        with pytest.raises(BenchnightError) as refused:
            read()
        assert refused.value.code == "account.stewards_only"
