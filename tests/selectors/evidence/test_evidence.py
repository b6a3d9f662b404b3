"""The evidence as one table, and what the viewer's own devices add to it."""

from __future__ import annotations

import pytest

from measurements.disclosure.release_format import EVIDENCE_COLUMNS, list_column_names
from measurements.disclosure.viewers import ANONYMOUS
from measurements.errors import BenchnightError
from measurements.models import PublishedVote
from measurements.selectors.designs import designs, evidence_records
from measurements.selectors.evidence import evidence
from measurements.selectors.tests import comparison, tests
from measurements.services.releases import releases
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


def everything(viewer, **asked):
    rows, cursor = [], None
    while True:
        page = evidence_records.list_evidence_records(viewer, cursor=cursor, limit=7, **asked)
        rows += page.results
        cursor = page.next_cursor
        if cursor is None:
            return rows


def test_pages_hold_every_row_once_and_the_stream_is_the_same():
    first, second = factories.evidence(3), factories.evidence(4, turns=10, style="bifilar")
    releases.make_release()
    viewer = factories.member("reader")
    rows = everything(viewer)
    assert len(rows) == len({(row["design"], row["band"], row["kind"]) for row in rows})
    assert {row["design"] for row in rows} == {first, second}
    assert list(evidence_records.stream_evidence_records(viewer)) == rows
    assert {row["design"] for row in everything(viewer, design=first)} == {first}
    assert everything(ANONYMOUS) == []
    with pytest.raises(BenchnightError) as caught:
        everything(viewer, design="222222222222")
    assert caught.value.code == "design.not_found"


def test_a_row_is_what_the_design_shows_with_its_recipe_in_columns():
    key = factories.evidence(6)
    releases.make_release()
    for viewer in (factories.member("reader"), ANONYMOUS):
        shown = [each for each in designs.get_design_evidence(viewer, key) if each["devices"]]
        rows = everything(viewer)
        assert [{name: row[name] for name in each} for row, each in zip(rows, shown, strict=True)] == shown
        (recipe,) = {
            tuple(row[name] for name in ("ratio", "mix", "core_part", "stacked", "turns", "conductor"))
            for row in rows
        }
        assert recipe == ("1:1", "31", "2631803802", 1, 12, "other")
        assert {row["kind"] for row in rows} == {"common_mode"}
        names = list_column_names(EVIDENCE_COLUMNS)
        assert all(list(row) == list(dict.fromkeys(name.split(".")[0] for name in names)) for row in rows)


def test_an_owner_sees_exactly_what_is_published_of_it():
    factories.evidence(3)
    releases.make_release()
    owner = factories.member("person-1")
    (row,) = evidence.list_published_rows(owner)
    assert evidence.get_published_page(owner, first=0, most=8) == evidence.PublishedPage((row,), 1)
    assert evidence.get_published_page(owner, first=8, most=8) == evidence.PublishedPage((), 1)
    vote = PublishedVote.objects.get(test_key=row.test)
    assert vote.device_key == row.device
    figures = tests.get_test(owner, row.test).result["bands"]
    worst = {band["band"]: band["rejection_db"]["worst"] for band in figures}
    assert row.bands
    assert all(round(worst[own["band"]], 2) == own["rejection_worst_db"] for own in row.bands)
    assert evidence.list_published_rows(factories.member("reader")) == ()


def test_where_an_own_test_stands_beside_few():
    factories.evidence(5)
    releases.make_release()
    owner = factories.member("person-4")
    (row,) = tests.list_tests(owner).results
    assert row.published and row.evidence == "counts"
    bands = {band["band"]: band for band in comparison.compare_test(owner, row.key).bands}
    assert bands["30m"]["devices"] == 5
    assert bands["30m"]["median_db"] == round(bands["30m"]["median_db"])
    assert bands["30m"]["percentile"] is None  # of ten people on
    assert bands["6m"]["median_db"] is None  # the sweep ends at 30 MHz


def test_where_an_own_test_stands_beside_ten():
    factories.evidence(10)
    releases.make_release()
    for person, place in (("person-9", 90), ("person-0", 10)):
        owner = factories.member(person)
        (row,) = tests.list_tests(owner).results
        bands = {band["band"]: band for band in comparison.compare_test(owner, row.key).bands}
        # the peaks rise from person to person, and at resonance nothing else counts
        assert bands["30m"]["percentile"] == place
