"""The evidence as a whole: rows to members, aggregates to the public, nobody's identity to anybody."""

from __future__ import annotations

import csv
import io
import json

import pytest

from api import urls
from measurements.models import ReleaseFile
from tests.api.scene import PLANTED
from tests.api.test_permissions import TABLE, address_of


def lines_of(scene, role: str, words: str) -> list[str]:
    return scene.ask(role, "GET", f"evidence/?{words}").content.decode().splitlines()


class TestMembers:
    def test_one_row_per_device_and_band(self, scene):
        rows = scene.ask("stranger", "GET", "evidence/?limit=200").json()["results"]
        assert {row["design"] for row in rows} == {scene.popular}
        assert len({row["sample"] for row in rows}) == 6
        assert len({(row["sample"], row["band"]) for row in rows}) == len(rows)
        assert {row["month"] for row in rows} == {"2026-03"}

    @pytest.mark.parametrize("form", ["csv", "ndjson"])
    def test_made_beforehand_or_now_it_is_the_same(self, scene, form):
        made = scene.ask("stranger", "GET", f"evidence/?format={form}")
        ReleaseFile.objects.all().delete()
        now = scene.ask("stranger", "GET", f"evidence/?format={form}")
        assert now.content == made.content != b""
        assert now["ETag"] == made["ETag"]

    def test_pages_lines_and_table_hold_the_same_rows(self, scene):
        paged, path = [], "evidence/?limit=7"
        while path:
            page = scene.ask("owner", "GET", path).json()
            paged += page["results"]
            path = page["next"] and page["next"].removeprefix("http://testserver")
        lines = [json.loads(line) for line in lines_of(scene, "owner", "format=ndjson")]
        table = list(csv.DictReader(io.StringIO("\n".join(lines_of(scene, "owner", "format=csv")))))
        assert paged == lines
        assert [row["id"] for row in table] == [row["id"] for row in lines]
        assert [float(row["rejection_worst_db"]) for row in table] == [
            row["rejection_worst_db"] for row in lines
        ]

    def test_of_one_design(self, scene):
        rows = scene.ask("owner", "GET", f"evidence/?design={scene.rare}").json()["results"]
        assert rows == []


class TestPublic:
    def test_aggregates_only(self, scene):
        rows = scene.ask("anonymous", "GET", "evidence/").json()["results"]
        assert {row["design"] for row in rows} == {scene.popular, scene.rare}
        for row in rows:
            assert set(row) == {"design", "title", "bands"}
        shown = next(row for row in rows if row["design"] == scene.popular)
        assert {band["devices"] for band in shown["bands"] if band["devices"]} == {"5-9"}

    def test_it_equals_what_each_design_shows(self, scene):
        row = scene.ask("anonymous", "GET", f"evidence/?design={scene.popular}").json()["results"][0]
        assert (
            row["bands"]
            == scene.ask("anonymous", "GET", f"designs/{scene.popular}/evidence/").json()["results"]
        )

    def test_lines_and_table(self, scene):
        lines = [json.loads(line) for line in lines_of(scene, "anonymous", "format=ndjson")]
        assert lines == scene.ask("anonymous", "GET", "evidence/").json()["results"]
        table = list(csv.DictReader(io.StringIO("\n".join(lines_of(scene, "anonymous", "format=csv")))))
        assert len(table) == sum(len(line["bands"]) for line in lines)
        assert set(table[0]) >= {"design", "band", "verdict", "rejection_db.median"}

    def test_pages(self, scene):
        first = scene.ask("anonymous", "GET", "evidence/?limit=1").json()
        second = scene.ask("anonymous", "GET", first["next"].removeprefix("http://testserver")).json()
        assert second["next"] is None
        both = [page["results"][0]["design"] for page in (first, second)]
        assert sorted(both) == sorted([scene.popular, scene.rare])


@pytest.mark.parametrize("name", [pattern.name for pattern in urls.urlpatterns if pattern.name in TABLE])
@pytest.mark.parametrize("role", ["anonymous", "stranger", "operator"])
def test_what_was_planted_reaches_nobody_else(scene, name, role):
    """The owner's tag, file name and comment line were planted; every address is searched in every form."""
    keys = {"id": scene.popular, "role": "sweep", "number": scene.release, "name": "manifest.json"}
    keys |= (
        {"id": scene.device} if name == "device" else {"id": scene.test} if name.startswith("test") else {}
    )
    address = address_of(name, keys)
    for form in ("", "?format=csv", "?format=ndjson", "?format=svg", "?format=touchstone"):
        reply = scene.ask(role, "GET", address + form)
        assert PLANTED.encode() not in reply.content
        assert PLANTED not in str(reply.headers)
