"""What stewards look at: the queue, the log, accounts, and what may be one and the same."""

from __future__ import annotations

from datetime import timedelta

import pytest
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.ingest import access_tokens, audit, membership, merging, review
from measurements.queries import audit as log
from measurements.queries import members, merge_candidates
from measurements.queries import review as queue
from measurements.queries.audit import AuditFilter
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
    assert keys(queue.queue(steward)) == [third, second, first]
    row = queue.one(steward, third)
    assert (row.owner, row.device_tag, row.counts) == ("Ada", "C-1", False)
    assert [flag["code"] for flag in row.flags] == ["uncalibrated"]
    review.mark_reviewed(by=steward, test=first)
    review.exclude(by=steward, test=fine, reason="not of this device")
    assert keys(queue.queue(steward)) == [third, second]
    assert keys(queue.queue(steward, "excluded")) == [fine]
    assert keys(queue.queue(steward, "reviewed")) == [first]
    assert queue.counts(steward) == {"open": 2, "excluded": 1, "reviewed": 1}
    page = queue.queue(steward, limit=1)
    assert keys(page) == [third]
    assert keys(queue.queue(steward, limit=1, cursor=page.next_cursor)) == [second]


@pytest.mark.parametrize("tests", [2, 8])
def test_the_queue_asks_the_database_as_often_for_many_as_for_few(steward, django_assert_num_queries, tests):
    ada = factories.member("Ada")
    device = factories.device(ada)
    for seed in range(tests):
        factories.record(ada, device, factories.choke_s2p(seed=seed, points=51), calibrated="false")
    with django_assert_num_queries(2):
        assert len(queue.queue(steward).results) == tests


def test_the_log_is_filtered_and_paged(steward):
    ada = factories.member("Ada")
    for number in range(5):
        audit.note(by=ada, action="demo.write", subject=f"thing-{number}", number=number)
    audit.note(by=steward, action="demo.other", subject="thing-1")
    rows = log.listing(steward, AuditFilter(actor="Ada")).results
    assert [row.subject for row in rows] == [f"thing-{number}" for number in (4, 3, 2, 1, 0)]
    assert rows[0].detail == {"number": 4}
    assert len(log.listing(steward, AuditFilter(subject="thing-1")).results) == 2
    assert len(log.listing(steward, AuditFilter(action="demo.")).results) == 6
    today = timezone.now().date()
    assert len(log.listing(steward, AuditFilter(action="demo.", since=today, until=today)).results) == 6
    for apart in ({"since": today + timedelta(days=1)}, {"until": today - timedelta(days=1)}):
        assert log.listing(steward, AuditFilter(action="demo.", **apart)).results == ()
    seen, cursor = [], None
    for _ in range(3):
        page = log.listing(steward, AuditFilter(actor="Ada"), cursor=cursor, limit=2)
        seen += [row.subject for row in page.results]
        cursor = page.next_cursor
    assert cursor is None and seen == [f"thing-{number}" for number in (4, 3, 2, 1, 0)]


def test_accounts_say_what_they_are_signed_in_with(steward, django_assert_num_queries):
    ada = factories.member("Ada", "operator")
    factories.device(ada)
    access_tokens.issue(name="Ada", days=1)
    membership.new_link(by=steward, name="Ada")
    with django_assert_num_queries(4):
        rows = {row.name: row for row in members.listing(steward).results}
    row = rows["Ada"]
    assert (row.role, row.active, row.has_password, row.devices, row.tokens) == (
        "operator",
        True,
        False,
        1,
        1,
    )
    assert row.link_until is not None and rows["stella"].link_until is None
    assert [row.name for row in members.listing(steward, text="ad").results] == ["Ada"]
    page = members.listing(steward, limit=1)
    assert [row.name for row in page.results] == ["Ada"]
    assert [row.name for row in members.listing(steward, limit=1, cursor=page.next_cursor).results] == [
        "stella"
    ]
    assert members.stewards(steward) == 1


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
    found = {(row.design, row.into): row.differs for row in merge_candidates.pairs(steward)}
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
    assert near not in {key for row in merge_candidates.pairs(steward) for key in (row.design, row.into)}


def test_typed_sizes_near_a_listed_core_are_found(steward):
    for turns in (11, 12):
        factories.design(steward, turns=turns, **NEAR)
    factories.design(steward, turns=12, mix="43", outer_mm=99.0, inner_mm=50.0, height_mm=20.0)
    (row,) = merge_candidates.typed_cores(steward)
    assert (row.outer_mm, row.inner_mm, row.height_mm, row.mix, row.designs) == (62.0, 36.1, 12.9, "31", 2)
    assert row.near[0].part == "2631803802" and row.near[0].off_percent == pytest.approx(1.64, abs=0.01)


@pytest.mark.parametrize("role", ["member", "operator"])
def test_only_stewards_see_them(role):
    somebody = factories.member("mo", role)
    for read in (
        lambda: queue.queue(somebody),
        lambda: queue.counts(somebody),
        lambda: queue.one(somebody, "222222222222"),
        lambda: log.listing(somebody),
        lambda: members.listing(somebody),
        lambda: members.one(somebody, "mo"),
        lambda: members.stewards(somebody),
        lambda: merge_candidates.pairs(somebody),
        lambda: merge_candidates.typed_cores(somebody),
        lambda: merge_candidates.design(somebody, "222222222222"),
    ):
        with pytest.raises(BenchnightError) as refused:
            read()
        assert refused.value.code == "account.stewards_only"
