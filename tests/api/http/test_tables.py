"""CSV and NDJSON: readable by the standard library, and never a formula."""

from __future__ import annotations

import csv
import io
import json
import math

import pytest
from hypothesis import given
from hypothesis import strategies as st
from rest_framework import serializers

from api.http import replies

TEXTS = st.text(st.characters(codec="utf-8", exclude_characters="\x00"), max_size=20)
# RFC 4180 readers take any of these line ends inside a quoted cell as they are
NUMBERS = st.floats(allow_nan=False, allow_infinity=False) | st.integers(-(10**12), 10**12)


class Inner(serializers.Serializer):
    re = serializers.FloatField()
    im = serializers.FloatField()


class Row(serializers.Serializer):
    name = serializers.CharField()
    z_ohm = Inner()
    tags = serializers.ListField()


def read(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text, newline="")))


def test_columns_come_from_the_serializer():
    assert replies.list_columns(Row()) == ("name", "z_ohm.re", "z_ohm.im", "tags")
    assert replies.format_csv([], replies.list_columns(Row())) == "name,z_ohm.re,z_ohm.im,tags\r\n"


def test_nested_values_lists_and_what_is_missing():
    rows = [
        {"name": "a", "z_ohm": {"re": 1.5, "im": -2.0}, "tags": ["x", "y"]},
        {"name": "b", "z_ohm": None, "tags": []},
    ]
    assert read(replies.format_csv(rows, replies.list_columns(Row()))) == [
        {"name": "a", "z_ohm.re": "1.5", "z_ohm.im": "-2.0", "tags": '["x","y"]'},
        {"name": "b", "z_ohm.re": "", "z_ohm.im": "", "tags": "[]"},
    ]


@given(TEXTS)
def test_no_text_is_a_formula_and_the_rest_is_unchanged(text):
    cell = read(replies.format_csv([{"name": text, "n": 1}], ("name", "n")))[0]["name"]
    assert not cell.startswith(replies.FORMULA_STARTS)
    assert cell in (text, f"'{text}")
    assert (cell == text) == (not text.startswith(replies.FORMULA_STARTS))


@pytest.mark.parametrize(
    "start", ["=", "+", "-", "@", "\t", "\r", "\n", "\uff1d", "\uff0b", "\uff0d", "\uff20"]
)
def test_what_a_spreadsheet_takes_for_a_formula(start):
    """The starts that OWASP names (CSV Injection), the full-width ones among them."""
    assert read(replies.format_csv([{"name": f"{start}1+1"}], ("name",)))[0]["name"] == f"'{start}1+1"


@pytest.mark.parametrize("separator", [",", ";", "\t"])
def test_no_text_begins_a_cell_of_its_own(separator):
    """Whatever a spreadsheet separates cells by, and it separates by semicolons where commas are decimal."""
    text = replies.format_csv([{"name": f"a{separator}=1+1{separator}b"}], ("name",))
    for by in ",;\t":
        cells = list(csv.reader(io.StringIO(text, newline=""), delimiter=by))
        assert cells[1] == [f"a{separator}=1+1{separator}b"]


@given(NUMBERS)
def test_numbers_stay_numbers(number):
    """Negative decibels too: a quote in front would make a text of them."""
    cell = read(replies.format_csv([{"loss_db": number, "n": 1}], ("loss_db", "n")))[0]["loss_db"]
    assert float(cell) == float(number)


@pytest.mark.parametrize("value", [math.nan, math.inf, [math.nan], {"re": -math.inf}])
def test_what_json_cannot_hold_is_refused(value):
    with pytest.raises(ValueError, match="JSON"):
        replies.format_csv([{"a": value}], ("a",))
    with pytest.raises(ValueError, match="JSON"):
        list(replies.format_ndjson_lines([{"a": value}]))


@given(st.lists(st.dictionaries(TEXTS, TEXTS | NUMBERS | st.none() | st.booleans(), max_size=3), max_size=4))
def test_each_line_is_one_object(rows):
    lines = "".join(replies.format_ndjson_lines(rows)).split("\n")
    assert lines[-1] == "" and [json.loads(line) for line in lines[:-1]] == rows


def test_a_stream_is_made_line_by_line():
    taken = []

    def rows():
        for number in range(3):
            taken.append(number)
            yield {"n": number}

    lines = replies.format_csv_lines(rows(), ("n",))
    assert next(lines) == "n\r\n" and taken == []
    assert next(lines) == "0\r\n" and taken == [0]
    assert list(lines) == ["1\r\n", "2\r\n"]
