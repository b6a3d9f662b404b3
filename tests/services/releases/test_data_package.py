"""The data package of a release, validated by the library of its specification (Frictionless Data)."""

from __future__ import annotations

import csv
import hashlib
import io
import json
from pathlib import Path

import frictionless
import pytest

from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.models import Release
from measurements.selectors.releases import release_files
from measurements.services.reference import reference_files
from measurements.services.releases import releases
from tests import factories, scenes

pytestmark = pytest.mark.usefixtures("reference_data")


def build_group() -> Viewer:
    """A release of three designs of many and of few people; a member who reads it."""
    reference_files.load_reference_data()
    factories.evidence(11)
    factories.evidence(6, turns=9)
    factories.evidence(4, turns=10)
    releases.make_release()
    return factories.member("reader")


package_group = scenes.share("package_group", build_group)


@pytest.fixture(params=["public", "members"])
def reader(request, package_group, db) -> Viewer:
    return ANONYMOUS if request.param == "public" else package_group


@pytest.fixture
def folder(reader, tmp_path) -> Path:
    """All files of the release beside each other, as somebody downloads them."""
    for row in release_files.list_files_of_releases(reader, [1])[1]:
        (tmp_path / row.name).write_bytes(release_files.get_file_content(reader, 1, row.name)[1])
    return tmp_path


def read_package(folder: Path) -> dict:
    return json.loads((folder / "datapackage.json").read_text())


def test_the_library_finds_no_fault(folder):
    """Structure, hashes, sizes, header, type of every cell and the primary key."""
    report = frictionless.validate(str(folder / "datapackage.json"))
    assert report.valid, report.flatten(["title", "fieldName", "message"])
    assert [task.name for task in report.tasks] == ["evidence-csv", "evidence-ndjson"]
    assert all(task.stats["rows"] > 0 for task in report.tasks)


@pytest.mark.parametrize(
    ("name", "old", "new"),
    [
        ("evidence.csv", b"choke", b"chuck"),
        ("evidence.csv", b"\r\n", b",1\r\n"),
        ("datapackage.json", b'"integer"', b'"date"'),
        ("datapackage.json", b'"name": "turns"', b'"name": "returns"'),
    ],
)
def test_the_library_would_find_one(folder, name, old, new):
    """So the test above can fail: a changed cell, a changed row, a wrong type, a wrong name."""
    content = (folder / name).read_bytes()
    assert old in content
    (folder / name).write_bytes(content.replace(old, new))
    assert not frictionless.validate(str(folder / "datapackage.json")).valid


def test_every_whole_table_of_the_release_is_a_resource_with_its_columns(folder):
    """Also one that a later version adds: a table without columns here fails."""
    manifest = json.loads((folder / "manifest.json").read_text())["files"]
    tables = {
        row["name"]: row
        for row in manifest
        if row["media_type"] in ("text/csv", "application/x-ndjson") and not row["name"].startswith("design-")
    }
    resources = {each["path"]: each for each in read_package(folder)["resources"]}
    assert set(resources) == set(tables)
    for name, resource in resources.items():
        content = (folder / name).read_bytes()
        assert resource["hash"] == f"sha256:{hashlib.sha256(content).hexdigest()}"
        assert resource["bytes"] == len(content)
        fields = [field["name"] for field in resource["schema"]["fields"]]
        first = content.decode().split("\n", 1)[0]
        found = next(csv.reader(io.StringIO(first))) if name.endswith(".csv") else list(json.loads(first))
        assert fields == found


def test_figures_have_types_and_units(folder, reader):
    fields = {field["name"]: field for field in read_package(folder)["resources"][0]["schema"]["fields"]}
    assert fields["rejection_db.median"]["type"] == "number" and fields["rejection_db.median"]["unit"] == "dB"
    assert fields["turns"]["type"] == "integer" and fields["core_part"]["type"] == "string"
    assert fields["devices"]["type"] == ("string" if reader == ANONYMOUS else "integer")
    dictionary = json.loads((folder / "dictionary.json").read_text())["files"]["evidence.csv"]["columns"]
    assert {name: field["description"] for name, field in fields.items()} == {
        column["name"]: column["meaning"] for column in dictionary
    }


def test_terms_that_are_a_name_are_the_name_of_the_licence(settings, tmp_path):
    """SPDX identifiers have no blank; a sentence of the group is a title alone."""
    settings.BENCHNIGHT_GROUP_NAME = "Bench of ten"
    shown = []
    for terms in ("CC-BY-4.0", "Ask us first.", ""):
        settings.BENCHNIGHT_DATA_TERMS = terms
        number = releases.make_release().number
        package = json.loads(release_files.get_file_content(ANONYMOUS, number, "datapackage.json")[1])
        assert frictionless.Package.from_descriptor(package).title.startswith("Bench of ten")
        assert package["sources"][1]["title"].startswith("Band plan of ITU region")
        shown.append(package["licenses"])
    assert shown[0] == [{"name": "CC-BY-4.0", "path": "LICENCE.txt", "title": "CC-BY-4.0"}]
    assert shown[1] == [{"path": "LICENCE.txt", "title": "Ask us first."}]
    assert "has not said" in shown[2][0]["title"]


def test_the_citation_names_release_content_and_engine(reader):
    told = release_files.get_file_content(reader, 1, "CITATION.txt")[1].decode()
    made = Release.objects.get(number=1)
    assert "release 1" in told and made.content_sha256 in told and made.engine_version in told
    assert "/designs/ID/?release=1&band=BAND&benchmark_db=LIMIT" in told
