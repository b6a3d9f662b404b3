"""What the files of a release hold: rows by design and random id, texts, the dictionary. No database."""

from __future__ import annotations

import csv
import io
import json
import uuid

import pytest

from measurements.disclosure import published_figures, release_format, release_rows, table_text
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS

SALT = b"s" * release_rows.SALT_BYTES
BANDS = ("40m", "20m")
# one value a column of the figures of a band, the same in every row
ROW = [float(number) for number in range(1, 40)]


@pytest.fixture
def unpacked(monkeypatch: pytest.MonkeyPatch):
    """Figures that are not packed: `published_figures` has tests of its own."""

    def unpack(bands, figures, coverage):
        assert (figures, coverage) == (b"packed", "ff")
        return [(band, *ROW[:3]) for band in bands]

    monkeypatch.setattr(published_figures, "unpack_figures", unpack)


def sample(number: int, design: str) -> tuple:
    return (uuid.UUID(int=number), design, "2026-03", BANDS, b"packed", "ff", 1.5e7)


def test_rows_come_by_design_then_by_ids_of_this_release(unpacked):
    given = [sample(1, "beta"), sample(2, "alpha"), sample(3, "alpha")]
    rows = release_rows.build_release_rows(SALT, given)
    assert len(rows) == len(given) * len(BANDS)
    assert [row[2] for row in rows] == ["alpha"] * 4 + ["beta"] * 2
    assert rows == sorted(rows, key=lambda row: (row[2], row[1], row[0]))
    assert rows == release_rows.build_release_rows(SALT, given[::-1])
    assert {row[4] for row in rows} == set(BANDS)
    assert all(row[3] == "2026-03" and list(row[5:8]) == ROW[:3] and row[8] == 1.5e7 for row in rows)
    assert len({row[0] for row in rows}) == len(rows) and len({row[1] for row in rows}) == len(given)


def test_no_id_is_the_same_in_the_next_release(unpacked):
    given = [sample(1, "beta"), sample(2, "alpha")]
    now = release_rows.build_release_rows(SALT, given)
    then = release_rows.build_release_rows(b"t" * release_rows.SALT_BYTES, given)
    assert not {value for row in now for value in row[:2]} & {value for row in then for value in row[:2]}


def test_csv_is_read_back_by_the_standard_reader():
    """RFC 4180: CR LF after each line, quotes doubled; no text begins a formula (OWASP, CSV Injection)."""
    rows = [["a,b", 'say "so"', 1.5, None], ["=1+1", "x\ny", True, "semi;colon"]]
    lines = list(table_text.format_csv_table(rows, ["one", "two", "three", "four"]))
    assert len(lines) == 3 and all(line.endswith("\r\n") for line in lines)
    assert list(csv.reader(io.StringIO("".join(lines), newline=""))) == [
        ["one", "two", "three", "four"],
        ["a,b", 'say "so"', "1.5", ""],
        ["'=1+1", "x\ny", "true", "semi;colon"],
    ]


def test_ndjson_holds_one_object_a_line_and_no_nan():
    lines = list(table_text.format_ndjson_lines([{"a": 1.5, "b": None}, {"a": "ü"}]))
    assert [json.loads(line) for line in lines] == [{"a": 1.5, "b": None}, {"a": "ü"}]
    assert all(line.endswith("\n") and line.count("\n") == 1 for line in lines)
    with pytest.raises(ValueError):
        list(table_text.format_ndjson_lines([{"a": float("nan")}]))


def test_the_dictionary_describes_every_column_of_every_table():
    made = json.loads(release_format.build_data_dictionary(7, "9.1", 2, DEFAULT_THRESHOLDS))
    assert (made["release"], made["engine_version"], made["itu_region"]) == (7, "9.1", 2)
    assert made["thresholds"] == {
        name: getattr(DEFAULT_THRESHOLDS, name)
        for name in ("min_contributors", "public_min_contributors", "min_joiners", "votes_per_contributor")
    }
    assert set(made["files"]) == {"evidence.csv", "evidence.ndjson", "design-ID.csv", "designs-public.csv"}
    assert all(set(file) == {"a row is", "columns"} and file["a row is"] for file in made["files"].values())
    tables = {
        "evidence.csv": release_format.EVIDENCE_COLUMNS,
        "designs-public.csv": release_format.PUBLIC_COLUMNS,
    }
    for name, columns in tables.items():
        described = made["files"][name]["columns"]
        assert [column["name"] for column in described] == [column.name for column in columns]
        assert all(column["meaning"] for column in described)
    assert set(made) == {"release", "engine_version", "itu_region", "thresholds", "csv", "ndjson", "files"}
