"""Manifests as spreadsheets save them are read; what cannot be understood names line and column."""

from __future__ import annotations

import csv
import io

import pandas
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.services.intakes import grouping, manifests
from measurements.services.intakes.filename_hints import LineGuess, guess_line
from measurements.services.intakes.grouping import number_units

ROWS = (
    {"file": "a.s2p", "tag": "C-1", "contributor": "Ada", "kind": "common_mode", "load_ohm": ""},
    {"file": "b.s1p", "tag": "U-2", "contributor": "Gwenna", "kind": "load_match", "load_ohm": "199,6"},
)


def table(separator: str, quoting: int = csv.QUOTE_MINIMAL, newline: str = "\r\n") -> str:
    out = io.StringIO(newline="")
    sheet = csv.DictWriter(out, list(ROWS[0]), delimiter=separator, quoting=quoting, lineterminator=newline)
    sheet.writeheader()
    sheet.writerows(ROWS)
    return out.getvalue()


def refusal(text: str) -> BenchnightError:
    with pytest.raises(BenchnightError) as caught:
        manifests.parse_manifest(text)
    return caught.value


@pytest.mark.parametrize("separator", [",", ";", "\t", "|"])
@pytest.mark.parametrize("newline", ["\r\n", "\n"])
@pytest.mark.parametrize("encoding", ["utf-8", "utf-8-sig", "utf-16", "cp1252"])
def test_separators_line_ends_and_encodings(separator, newline, encoding):
    rows = manifests.parse_manifest(
        manifests.decode_manifest(table(separator, newline=newline).encode(encoding))
    )
    assert [row["file"] for row in rows] == ["a.s2p", "b.s1p"]
    assert [row["line"] for row in rows] == [2, 3]
    assert rows[1]["load_ohm"] == "199,6"
    assigned = grouping.combine_lines([rows[1]])
    assert assigned.settings.load_ohm == 199.6  # a decimal comma


def test_what_pandas_writes_is_read():
    rows = manifests.parse_manifest(pandas.DataFrame(ROWS).to_csv(index=False, sep=";"))
    assert [row["tag"] for row in rows] == ["C-1", "U-2"]


def test_headings_in_other_dress_and_order():
    text = "Kind, TAG ,File,Load-Ohm,measured on\ncommon_mode,C-1,a.s2p,,2026-05-14\n"
    (row,) = manifests.parse_manifest(text)
    assert (row["kind"], row["tag"], row["file"], row["measured_on"]) == (
        "common_mode",
        "C-1",
        "a.s2p",
        "2026-05-14",
    )


def test_blank_lines_and_empty_trailing_columns_are_nothing():
    text = "\n\nfile,tag,kind,,\n\na.s2p,C-1,common_mode,,\n,,,,\n"
    (row,) = manifests.parse_manifest(text)
    assert row["line"] == 5 and row["role"] == ""


@pytest.mark.parametrize(
    ("text", "code", "field", "line"),
    [
        ("", "manifest.empty", "manifest", None),
        ("\n \n", "manifest.empty", "manifest", None),
        ("file,tag\n", "manifest.missing_column", "kind", 1),
        ("file,tag,kind,colour\n", "manifest.unknown_column", "colour", 1),
        ("file,tag,kind,Tag\n", "manifest.repeated_column", "tag", 1),
        ("file,tag,kind\n,C-1,common_mode\n", "manifest.no_file", "file", 2),
        ("file,tag,kind\na.s2p,x,y\nA.S2P,x,y\n", "manifest.file_twice", "file", 3),
        ("file,tag,kind\na.s2p,x,y,z\n", "manifest.too_many_cells", None, 2),
        (f"file,tag,kind\na.s2p,{'x' * 301},y\n", "manifest.too_long", "tag", 2),
        ("file,tag,kind\n\x00", "manifest.unreadable", "manifest", None),
    ],
)
def test_faults_name_line_and_column(text, code, field, line):
    fault = refusal(text)
    assert (fault.errors[0].code, fault.errors[0].field, fault.errors[0].line) == (code, field, line)


def test_every_fault_is_listed_at_once():
    fault = refusal("file,tag,kind\n,x,y\na.s2p,x,y\na.s2p,x,y\n")
    assert fault.code == "manifest.invalid"
    assert [(error.code, error.line) for error in fault.errors] == [
        ("manifest.no_file", 2),
        ("manifest.file_twice", 4),
    ]


@given(st.binary(max_size=400) | st.text(max_size=400).map(lambda text: text.encode("utf-8", "ignore")))
def test_anything_at_all_is_read_or_refused(data):
    try:
        for row in manifests.parse_manifest(manifests.decode_manifest(data)):
            assert row["file"]
    except BenchnightError as error:
        assert error.code.startswith("manifest.")


@given(
    st.lists(
        st.text(st.characters(codec="utf-8", exclude_categories=["C", "Z"]), min_size=1, max_size=20),
        min_size=1,
    )
)
def test_what_is_written_is_read_again(names):
    names = list({name.casefold(): name for name in names}.values())
    rows = [{"file": name, "tag": name, "kind": "common_mode"} for name in names]
    if rows:
        read = manifests.parse_manifest(manifests.format_manifest(rows))
        assert [(row["file"], row["tag"]) for row in read] == [(name, name) for name in names]


def test_a_spreadsheet_computes_nothing():
    text = manifests.format_manifest([{"file": "=1+1", "tag": "@x", "kind": "+1"}])
    assert "'=1+1,'@x,,'+1" in text
    # nor where it separates cells by semicolons or tabs
    assert '"a;=1+1"' in manifests.format_manifest([{"file": "a;=1+1", "tag": "x", "kind": "y"}])


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("C-12.s2p", LineGuess("C-12", "common_mode", "", "sweep")),
        ("C-12 choke.s2p", LineGuess("C-12", "common_mode", "", "sweep")),
        ("AD-4_loss_far open.s1p", LineGuess("AD-4", "insertion_loss", "one_port", "far_open")),
        ("AD-4 short.s1p", LineGuess("AD-4", "insertion_loss", "one_port", "far_short")),
        ("AD-4 insertion loss far load.s1p", LineGuess("AD-4", "insertion_loss", "one_port", "far_load")),
        ("4to1_B7_match.s1p", LineGuess("B7", "load_match", "", "sweep", "4:1")),
        ("B7 load.s1p", LineGuess("B7", "load_match", "", "sweep")),
        ("B7 balance 12.s2p", LineGuess("B7", "balance", "", "sweep_12")),
        ("B7.s3p", LineGuess("B7", "balance", "", "sweep")),
        ("chokes pair ab.s2p", LineGuess("chokes", "insertion_loss", "pairs", "pair_ab")),
        ("C-3 cm reversed.s2p", LineGuess("C-3", "common_mode", "", "sweep_reversed")),
        ("C-3_b2b.s2p", LineGuess("C-3", "insertion_loss", "back_to_back", "sweep")),
        ("2026-05-14 sweep C-3.s2p", LineGuess("C-3", "common_mode", "", "sweep")),
        ("folder/C-3 antenna bypassed.s1p", LineGuess("C-3", "in_situ", "", "sweep_bypassed")),
        ("notes.txt", LineGuess("notes", "", "", "sweep")),
        ("", LineGuess("", "", "", "sweep")),
    ],
)
def test_what_a_name_suggests(name, expected):
    assert guess_line(name) == expected


@given(st.text(max_size=60))
def test_any_name_suggests_a_line_that_can_be_read(name):
    found = guess_line(name)
    assert grouping.get_line_role({"role": found.role}) in (*grouping.ROLES, "pair_ab", "pair_ac", "pair_bc")


def test_units_are_made_of_tag_owner_kind_and_method():
    def line(tag, role, kind="insertion_loss", contributor="Ada"):
        return {"tag": tag, "role": role, "kind": kind, "contributor": contributor, "method": "one_port"}

    lines = [
        line("U-1", "far_open"),
        line("U-2", "far_open"),
        line("u-1", "far_short"),
        line("U-1", "far_open"),  # again: the next test
        line("U-1", "far_short"),
        line("U-1", "far_open", contributor="Bea"),
        line("", "sweep"),
        line("", "sweep_reversed"),  # nothing to belong together by
    ]
    assert number_units(lines) == [1, 2, 1, 3, 3, 4, 5, 6]
