"""Identity-free rows: for members, with ids that are new in every release."""

from __future__ import annotations

import pytest

from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import EvidenceSample, PublishedVote
from measurements.selectors.evidence import evidence
from measurements.selectors.tests import comparison, tests
from measurements.services.releases import releases
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


def everything(viewer, **asked):
    items, cursor = [], None
    while True:
        page = evidence.list_evidence_items(viewer, cursor=cursor, limit=7, **asked)
        items += page.results
        cursor = page.next_cursor
        if cursor is None:
            return items


def test_pages_hold_every_row_once_and_the_stream_is_the_same():
    first, second = factories.evidence(3), factories.evidence(4, turns=10, style="bifilar")
    releases.make_release()
    viewer = factories.member("reader")
    items = everything(viewer)
    assert len(items) == len({item.id for item in items})
    assert {item.design for item in items} == {first, second}
    assert list(evidence.stream_evidence_items(viewer)) == items
    assert {item.design for item in everything(viewer, design=first)} == {first}
    assert len({item.sample for item in items}) == 7


def test_ids_are_new_in_every_release_and_never_the_stored_ones():
    factories.evidence(3)
    releases.make_release()
    viewer = factories.member("reader")
    before = {item.id for item in everything(viewer)} | {item.sample for item in everything(viewer)}
    releases.make_release()
    after = {item.id for item in everything(viewer)} | {item.sample for item in everything(viewer)}
    assert not before & after
    stored = {row.hex for row in EvidenceSample.objects.values_list("id", flat=True)}
    assert not (before | after) & stored


def test_the_public_gets_no_rows():
    for read in (
        lambda: evidence.list_evidence_items(ANONYMOUS),
        lambda: evidence.stream_evidence_items(ANONYMOUS),
    ):
        with pytest.raises(BenchnightError) as caught:
            read()
        assert caught.value.kind == "forbidden"


def test_an_owner_sees_exactly_what_is_published_of_it():
    factories.evidence(3)
    releases.make_release()
    owner = factories.member("person-1")
    (row,) = evidence.list_published_rows(owner)
    vote = PublishedVote.objects.get(test_key=row.test)
    assert vote.device_key == row.device
    theirs = {
        (item.band, item.rejection_worst_db, item.impedance_smallest_ohm)
        for item in everything(owner)
        if item.month == row.month
    }
    own = {(b["band"], b["rejection_worst_db"], b["impedance_smallest_ohm"]) for b in row.bands}
    assert own and own <= theirs
    assert evidence.list_published_rows(factories.member("reader")) == ()


def test_where_an_own_test_stands():
    factories.evidence(5)
    releases.make_release()
    owner = factories.member("person-4")
    (row,) = tests.list_tests(owner).results
    assert row.published and row.evidence == "counts"
    bands = {band["band"]: band for band in comparison.compare_test(owner, row.key).bands}
    # its peak is the highest of the five, and at resonance nothing else counts
    assert bands["30m"]["devices"] == 5
    assert bands["30m"]["percentile"] == 90.0  # mid-rank of the best of five
    assert bands["30m"]["from_median_db"] > 0
    assert bands["6m"]["percentile"] is None  # the sweep ends at 30 MHz
