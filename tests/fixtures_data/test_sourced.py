"""Every reference row says where it comes from, how it is known and as of when, and fits its table."""

from __future__ import annotations

import datetime
import re

import pytest

from tests.fixtures_data import reference_rows

BASES = {"read", "second-hand", "from memory", "common practice", "house default"}
SOURCED = {"source", "basis", "as_of", "note"}
COLUMNS = {
    "bands": {"region", "band", "start_hz", "stop_hz", "valid_from", "valid_to"},
    "benchmarks": {"kind", "metric", "value", "unit"},
    "conductors": {"name", "outer_mm"},
    "cores": {"part", "shape", "outer_mm", "inner_mm", "height_mm", "mix", "al_nh", "al_tolerance_percent"},
    "mixes": {"name", "initial_permeability", "curie_c", "resistivity_ohm_cm", "rows"},
}
KEYS = {
    "bands": ("region", "band", "valid_from"),
    "benchmarks": ("kind", "metric", "as_of"),
    "conductors": ("name",),
    "cores": ("part",),
    "mixes": ("name",),
}

every_file = pytest.mark.parametrize("file", reference_rows.FILES)


@every_file
def test_columns_are_exactly_those_documented(file: str) -> None:
    for row in reference_rows.rows(file):
        assert set(row) == COLUMNS[file] | SOURCED, row


@every_file
def test_every_row_has_source_basis_and_date(file: str) -> None:
    for row in reference_rows.rows(file):
        assert len(row["source"]) > 5, row
        assert row["basis"] in BASES, row
        assert datetime.date(2026, 1, 1) <= datetime.date.fromisoformat(row["as_of"]), row
        assert isinstance(row["note"], str), row


@every_file
def test_a_row_that_claims_to_be_read_names_the_document(file: str) -> None:
    """Name the regulation by its section, or give the address of the maker or the regional body."""
    for row in reference_rows.rows(file):
        if row["basis"] == "read":
            assert re.search(r"https?://\S+|47 CFR \d+\.\d+|maker's own table", row["source"]), row


@every_file
def test_only_makers_and_regulators_are_linked(file: str) -> None:
    """Sources are makers, standards and regulations; a page that only repeats one gets no address here."""
    hosts = {"fair-rite.com", "iaru-r1.org", "www.iaru-r1.org", "www.iaru.org"}
    for row in reference_rows.rows(file):
        assert set(re.findall(r"https?://([^/\s]+)", row["source"] + row["note"])) <= hosts, row


@every_file
def test_no_key_twice(file: str) -> None:
    keys = [tuple(row[name] for name in KEYS[file]) for row in reference_rows.rows(file)]
    assert len(keys) == len(set(keys))


@every_file
def test_the_file_says_what_it_covers(file: str) -> None:
    assert set(reference_rows.content(file)) == {"note", "rows"}
    assert len(reference_rows.content(file)["note"]) > 40


def test_one_row_a_line() -> None:
    for file in reference_rows.FILES:
        text = (reference_rows.FOLDER / f"{file}.json").read_text(encoding="utf-8")
        assert len(text.splitlines()) == len(reference_rows.rows(file)) + 5, file


def test_the_readme_explains_every_column_and_basis() -> None:
    text = (reference_rows.FOLDER / "README.md").read_text(encoding="utf-8")
    for name in SOURCED.union(*COLUMNS.values(), BASES):
        assert f"`{name}`" in text, name
