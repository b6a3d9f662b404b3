"""What the files of a release hold: texts and the dictionary. No database."""

from __future__ import annotations

import csv
import io
import json

import pytest

from measurements.disclosure import release_format, table_text
from measurements.disclosure.thresholds import DEFAULT_THRESHOLDS


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
        for name in (
            "min_contributors",
            "public_min_contributors",
            "min_joiners",
            "votes_per_contributor",
            "detail_min_contributors",
        )
    }
    assert set(made["files"]) == {"evidence.csv", "evidence.ndjson", "design-ID.csv"}
    assert all(set(file) == {"a row is", "columns"} and file["a row is"] for file in made["files"].values())
    tables = {"evidence.csv": release_format.EVIDENCE_COLUMNS}
    for name, columns in tables.items():
        described = made["files"][name]["columns"]
        assert [column["name"] for column in described] == [column.name for column in columns]
        assert all(column["meaning"] for column in described)
    assert set(made) == {"release", "engine_version", "itu_region", "thresholds", "csv", "ndjson", "files"}
