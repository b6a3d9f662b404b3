"""The evidence as a whole: the same columns for everybody, a row of several people, nobody's identity."""

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


class TestRows:
    @pytest.mark.parametrize(("role", "count"), [("stranger", 6), ("anonymous", "5-9")])
    def test_one_row_per_design_band_and_kind(self, scene, role, count):
        rows = scene.ask(role, "GET", "evidence/?limit=200").json()["results"]
        assert {row["design"] for row in rows} == {scene.popular}
        assert len({(row["design"], row["band"], row["kind"]) for row in rows}) == len(rows) >= 8
        assert {row["devices"] for row in rows} == {count}
        assert {row["turns"] for row in rows} == {12}

    def test_both_circles_have_the_same_columns_and_no_month(self, scene):
        heads = {lines_of(scene, role, "format=csv")[0] for role in ("anonymous", "owner", "steward")}
        assert len(heads) == 1
        columns = heads.pop().split(",")
        assert {"mix", "core_part", "turns", "stacked", "conductor", "ratio", "kind"} <= set(columns)
        assert not {"sample", "month", "rejection_worst_db", "self_resonance_hz"} & set(columns)

    @pytest.mark.parametrize("role", ["anonymous", "stranger"])
    @pytest.mark.parametrize("form", ["csv", "ndjson"])
    def test_made_beforehand_or_now_it_is_the_same(self, scene, form, role):
        made = scene.ask(role, "GET", f"evidence/?format={form}")
        ReleaseFile.objects.all().delete()
        now = scene.ask(role, "GET", f"evidence/?format={form}")
        assert now.content == made.content != b""
        assert now["ETag"] == made["ETag"]

    @pytest.mark.parametrize("role", ["anonymous", "owner"])
    def test_pages_lines_and_table_hold_the_same_rows(self, scene, role):
        paged, path = [], "evidence/?limit=4"
        while path:
            page = scene.ask(role, "GET", path).json()
            paged += page["results"]
            path = page["next"] and page["next"].removeprefix("http://testserver")
        lines = [json.loads(line) for line in lines_of(scene, role, "format=ndjson")]
        table = list(csv.DictReader(io.StringIO("\n".join(lines_of(scene, role, "format=csv")))))
        assert paged == lines
        assert [float(row["rejection_db.median"]) for row in table] == [
            row["rejection_db"]["median"] for row in lines
        ]

    @pytest.mark.parametrize("role", ["anonymous", "owner"])
    def test_it_equals_what_each_design_shows(self, scene, role):
        rows = scene.ask(role, "GET", f"evidence/?design={scene.popular}").json()["results"]
        shown = scene.ask(role, "GET", f"designs/{scene.popular}/evidence/").json()["results"]
        seen = [each for each in shown if each["devices"]]
        assert [{name: row[name] for name in each} for row, each in zip(rows, seen, strict=True)] == seen

    @pytest.mark.parametrize("role", ["anonymous", "owner"])
    def test_of_one_design(self, scene, role):
        assert scene.ask(role, "GET", f"evidence/?design={scene.rare}").json()["results"] == []
        assert scene.ask(role, "GET", "evidence/?design=222222222222").status_code == 404


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
