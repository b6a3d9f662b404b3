"""The files of a release: made with it, unchanged by later ones, the same columns for both circles."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import random

import pytest

from api.http import replies
from api.serializers.evidence import EvidenceRecord
from measurements.disclosure import release_format
from measurements.disclosure.viewers import ANONYMOUS
from measurements.models import Release, ReleaseFile, Test
from measurements.selectors.designs import evidence_records
from measurements.selectors.releases import release_files as release_files_selectors
from measurements.services.releases import release_files as release_files_services
from measurements.services.releases import releases
from measurements.services.tests import tests
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")
FILES = {"evidence.csv", "evidence.ndjson", "dictionary.json", "LICENCE.txt", "manifest.json"}
FILES |= {"datapackage.json", "CITATION.txt"}


def make() -> int:
    return releases.make_release(rng=random.Random(4)).number


def text(viewer, number: int, name: str) -> str:
    return release_files_selectors.get_file_content(viewer, number, name)[1].decode()


def table(viewer, number: int, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text(viewer, number, name), newline="")))


def test_each_circle_has_its_files_and_a_manifest_that_is_true():
    factories.evidence(5)
    number = make()
    for viewer in (ANONYMOUS, factories.member("reader")):
        listed = {
            row.name: row for row in release_files_selectors.list_files_of_releases(viewer, [number])[number]
        }
        assert set(listed) == FILES
        manifest = {row["name"]: row for row in json.loads(text(viewer, number, "manifest.json"))["files"]}
        whole = {name for name in manifest if not name.startswith("design-")}
        assert whole == FILES - {"manifest.json"}
        for name, row in listed.items():
            _, data = release_files_selectors.get_file_content(viewer, number, name)
            assert (len(data), hashlib.sha256(data).hexdigest()) == (row.size, row.sha256)
            if name in manifest:
                assert (manifest[name]["size"], manifest[name]["sha256"]) == (row.size, row.sha256)


@pytest.mark.parametrize("who", ["members", "public"])
def test_the_files_hold_the_rows_that_are_read_elsewhere(who):
    """Of few and of many people, with detail and without."""
    factories.evidence(11)
    factories.evidence(6, turns=9)
    factories.evidence(4, turns=10)
    number = releases.make_release().number
    reader = ANONYMOUS if who == "public" else factories.member("reader")
    streamed = list(evidence_records.stream_evidence_records(reader))
    assert len({row["design"] for row in streamed}) == (2 if who == "public" else 3)
    lines = [json.loads(line) for line in text(reader, number, "evidence.ndjson").splitlines()]
    assert lines == streamed
    names = release_format.list_column_names(release_format.EVIDENCE_COLUMNS)
    told = "".join(replies.format_csv_lines(streamed, names))
    assert text(reader, number, "evidence.csv") == told


def test_every_column_stands_in_the_dictionary_and_both_circles_have_the_same():
    factories.evidence(5)
    number = make()
    files = json.loads(text(ANONYMOUS, number, "dictionary.json"))["files"]
    columns = files["evidence.csv"]["columns"]
    for viewer in (ANONYMOUS, factories.member("reader")):
        header = text(viewer, number, "evidence.csv").splitlines()[0].split(",")
        assert header == [column["name"] for column in columns]
    assert tuple(header) == replies.list_columns(EvidenceRecord())
    for column in columns:
        assert column["meaning"] and column["type"] in ("text", "number", "JSON")
        assert "{" not in column["meaning"] + str(column["rounding"])
    assert not {"month", "sample", "id"} & set(header)


def test_a_text_that_would_be_a_formula_is_quoted_and_a_negative_number_is_not():
    from measurements.disclosure import table_text

    row = ("=1+1", "-title", "40m", 20.0, 0.5, "mixed", "5-9", "5-9", -0.5, None)
    (_, line) = table_text.format_csv_table([row], [str(place) for place in range(len(row))])
    expected = ["'=1+1", "'-title", "40m", "20.0", "0.5", "mixed", "5-9", "5-9", "-0.5", ""]
    assert next(csv.reader([line])) == expected


def test_an_older_release_keeps_its_files():
    factories.evidence(5)
    first = make()
    reader = factories.member("reader")
    before = text(reader, first, "evidence.csv")
    second = releases.make_release().number
    assert text(reader, first, "evidence.csv") == before
    figures = [
        [{**row, "release": "", "quarter": ""} for row in table(reader, number, "evidence.csv")]
        for number in (first, second)
    ]
    assert figures[0] == figures[1]


def test_who_leaves_changes_no_file_of_a_release():
    """Emptying the tables that hold a leaver's evidence would say in which releases, and so where, it was."""
    factories.evidence(5)
    first = make()
    reader = factories.member("reader")
    before = {name: text(reader, first, name) for name in release_files_services.TABLES}
    test = Test.objects.select_related("device__contributor__member").first()
    owner = factories.member(test.device.contributor.member.name)
    tests.withdraw_test(by=owner, test=test.key)
    make()
    assert {name: text(reader, first, name) for name in release_files_services.TABLES} == before


def test_a_release_without_files_gets_them_once():
    factories.evidence(3)
    number = make()
    reader = factories.member("reader")
    before = text(reader, number, "evidence.csv")
    ReleaseFile.objects.all().delete()
    assert release_files_services.store_missing_release_files() == number
    assert release_files_services.store_missing_release_files() is None
    assert text(reader, number, "evidence.csv") == before


def test_a_release_whose_files_fail_is_not_there(monkeypatch):
    factories.evidence(3)

    def fails(_release):
        raise OSError("no room")

    monkeypatch.setattr(release_files_services, "store_release_files", fails)
    with pytest.raises(OSError, match="no room"):
        make()
    assert not Release.objects.exists()


def test_the_licence_says_what_the_group_decided(settings):
    settings.BENCHNIGHT_GROUP_NAME = "Bench of ten"
    first = make()
    assert "has not said" in text(ANONYMOUS, first, "LICENCE.txt")
    settings.BENCHNIGHT_DATA_TERMS = "CC-BY-4.0"
    second = releases.make_release().number
    said = text(ANONYMOUS, second, "LICENCE.txt")
    assert "Bench of ten" in said and "CC-BY-4.0" in said and "has not said" not in said


def test_files_may_follow_their_release():
    factories.evidence(3)
    made = releases.make_release(rng=random.Random(8), files=False)
    reader = factories.member("reader")
    assert release_files_selectors.list_files_of_releases(reader, [made.number])[made.number] == ()
    assert release_files_services.store_missing_release_files() == made.number
    assert {
        row.name for row in release_files_selectors.list_files_of_releases(reader, [made.number])[made.number]
    } == FILES
