"""One file per design of a release: the rows that the whole tables hold of it, and nothing about others."""

from __future__ import annotations

import json

import pytest

from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.errors import BenchnightError
from measurements.selectors.releases import release_files
from measurements.services.releases import releases
from tests import factories

pytestmark = pytest.mark.usefixtures("reference_data")


@pytest.fixture
def designs(reference_data) -> dict[str, str]:
    """One that everybody sees, one that members see, one that nobody does."""
    made = {
        "public": factories.evidence(6),
        "members": factories.evidence(3, first=10, turns=9),
        "nobody": factories.evidence(1, first=20, turns=7),
    }
    releases.make_release()
    return made


def text(viewer: Viewer, name: str) -> str:
    return release_files.get_file_content(viewer, 1, name)[1].decode()


def of(design: str) -> str:
    return f"design-{design}.csv"


@pytest.mark.parametrize("who", ["members", "public"])
def test_together_they_are_the_whole_table(designs, who):
    viewer = ANONYMOUS if who == "public" else factories.member("Ada")
    shown = [designs["public"]] if who == "public" else [designs["public"], designs["members"]]
    head, *rows = text(viewer, "evidence.csv").splitlines()
    found = []
    for design in sorted(shown):
        own_head, *own = text(viewer, of(design)).splitlines()
        assert own_head == head and own and all(design in row for row in own)
        found += own
    assert found == rows


def test_the_manifest_lists_them_and_the_release_does_not(designs):
    for viewer, count in ((ANONYMOUS, 1), (factories.member("Ada"), 2)):
        listed = json.loads(text(viewer, "manifest.json"))["files"]
        names = [file["name"] for file in listed]
        assert len(set(names)) == len(names)
        assert len([name for name in names if name.startswith("design-")]) == count
        assert not any(
            of(key) in str(release_files.list_files_of_releases(viewer, [1])) for key in designs.values()
        )
        for file in listed:
            row, data = release_files.get_file_content(viewer, 1, file["name"])
            assert (row.sha256, len(data)) == (file["sha256"], file["size"])


def test_the_public_cannot_tell_one_that_members_see_from_one_without_evidence(designs):
    said = []
    for design in (designs["members"], designs["nobody"], "222222222222"):
        with pytest.raises(BenchnightError) as caught:
            release_files.get_file_content(ANONYMOUS, 1, of(design))
        said.append((caught.value.code, caught.value.detail, caught.value.kind))
    assert len(set(said)) == 1 and said[0][0] == "release.file_not_found"
