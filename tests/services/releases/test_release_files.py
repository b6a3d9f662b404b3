"""The files of a release: made with it, unchanged by later ones, gone where evidence was withdrawn."""

from __future__ import annotations

import csv
import hashlib
import io
import json
import random

import pytest

from measurements.disclosure import release_format
from measurements.disclosure.viewers import ANONYMOUS
from measurements.models import EvidenceSample, Release, ReleaseFile, Test
from measurements.selectors.designs import designs
from measurements.selectors.evidence import evidence
from measurements.selectors.releases import release_files as release_files_selectors
from measurements.services.releases import release_files as release_files_services
from measurements.services.releases import releases
from measurements.services.tests import tests
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")
PUBLIC = {"designs-public.csv", "dictionary.json", "LICENCE.txt", "manifest.json"}
MEMBERS = PUBLIC | {"evidence.csv", "evidence.ndjson"}


def make() -> int:
    return releases.make_release(rng=random.Random(4)).number


def text(viewer, number: int, name: str) -> str:
    return release_files_selectors.get_file_content(viewer, number, name)[1].decode()


def table(viewer, number: int, name: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text(viewer, number, name), newline="")))


def test_each_circle_has_its_files_and_a_manifest_that_is_true():
    factories.evidence(5)
    number = make()
    for viewer, expected in ((ANONYMOUS, PUBLIC), (factories.member("reader"), MEMBERS)):
        listed = {
            row.name: row for row in release_files_selectors.list_files_of_releases(viewer, [number])[number]
        }
        assert set(listed) == expected
        manifest = {row["name"]: row for row in json.loads(text(viewer, number, "manifest.json"))["files"]}
        whole = {name for name in manifest if not name.startswith("design-")}
        assert whole == expected - {"manifest.json"}
        for name, row in listed.items():
            _, data = release_files_selectors.get_file_content(viewer, number, name)
            assert (len(data), hashlib.sha256(data).hexdigest()) == (row.size, row.sha256)
            if name in manifest:
                assert (manifest[name]["size"], manifest[name]["sha256"]) == (row.size, row.sha256)


def test_the_rows_of_members_are_those_of_the_release():
    factories.evidence(3)
    factories.evidence(4, turns=10)
    number = make()
    reader = factories.member("reader")
    streamed = [vars(item) for item in evidence.stream_evidence_items(reader)]
    assert len({row["sample"] for row in streamed}) == EvidenceSample.objects.count() > 0
    lines = [json.loads(line) for line in text(reader, number, "evidence.ndjson").splitlines()]
    assert lines == streamed
    rows = table(reader, number, "evidence.csv")
    assert [row["id"] for row in rows] == [row["id"] for row in streamed]
    assert [float(row["rejection_worst_db"]) for row in rows] == [
        row["rejection_worst_db"] for row in streamed
    ]


def test_the_public_table_is_what_each_design_shows_the_public():
    popular = factories.evidence(5)
    members_only = factories.evidence(4, turns=10)
    number = make()
    rows = table(ANONYMOUS, number, "designs-public.csv")
    assert {row["design"] for row in rows} == {popular} != {members_only}
    shown = [each for each in designs.get_design_evidence(ANONYMOUS, popular) if each["devices"]]
    assert [(row["band"], row["verdict"], row["devices"]) for row in rows] == [
        (each["band"], each["verdict"], each["devices"]) for each in shown
    ]
    assert [float(row["chance"]) for row in rows] == [each["chance"] for each in shown]
    for row, each in zip(rows, shown, strict=True):
        assert float(row["rejection_median_db"]) == each["rejection_db"]["median"]
        assert float(row["benchmark_db"]) == each["benchmark_db"]


def test_every_column_stands_in_the_dictionary():
    factories.evidence(5)
    number = make()
    reader = factories.member("reader")
    files = json.loads(text(ANONYMOUS, number, "dictionary.json"))["files"]
    for name in ("evidence.csv", "designs-public.csv"):
        header = text(reader, number, name).splitlines()[0].split(",")
        assert header == [column["name"] for column in files[name]["columns"]]
        for column in files[name]["columns"]:
            assert column["meaning"] and column["type"] in ("text", "number")
            if column["type"] == "number":
                assert column["rounding"]
                # a chance has no unit
                assert (column["unit"] is None) == (column["name"] == "chance")
                assert column["unit"] is None or column["name"].endswith(f"_{column['unit'].lower()}")


def test_a_text_that_would_be_a_formula_is_quoted_and_a_negative_number_is_not():
    from measurements.disclosure import table_text

    names = release_format.list_column_names(release_format.PUBLIC_COLUMNS)
    row = ("=1+1", "-title", "40m", 20.0, 0.5, "mixed", "5-9", "5-9", -0.5, None)
    (_, line) = table_text.format_csv_table([row], names)
    expected = ["'=1+1", "'-title", "40m", "20.0", "0.5", "mixed", "5-9", "5-9", "-0.5", ""]
    assert next(csv.reader([line])) == expected


def test_an_older_release_keeps_its_files_and_ids_are_new():
    factories.evidence(5)
    first = make()
    reader = factories.member("reader")
    before = text(reader, first, "evidence.csv")
    second = releases.make_release().number
    assert text(reader, first, "evidence.csv") == before
    ids = [{row["id"] for row in table(reader, number, "evidence.csv")} for number in (first, second)]
    assert ids[0] and not ids[0] & ids[1]
    figures = [
        sorted(row["rejection_worst_db"] for row in table(reader, number, "evidence.csv"))
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
    } == MEMBERS
