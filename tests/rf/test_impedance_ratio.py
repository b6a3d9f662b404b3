"""Ratios as the trade writes them."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.errors import BenchnightError
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.rf.request import Limits


@pytest.mark.parametrize(
    ("text", "ratio"),
    [
        ("1:1", 1),
        ("4:1", 4),
        ("1:4", 4),
        (" 49 : 1 ", 49),
        ("1:2.25", Fraction(9, 4)),
        ("9:4", Fraction(9, 4)),
        ("0.25:1", Fraction(1, 4)),
        ("1/4:1", Fraction(1, 4)),
        ("2:3", Fraction(2, 3)),
    ],
)
def test_ratio_is_far_side_over_unbalanced_side(text, ratio):
    assert parse_ratio(text) == ratio


@pytest.mark.parametrize(
    "text",
    ["", "4", "4:0", "0:1", "-4:1", "a:b", "4:1:1", "1e3:1", "nan:1", "1/0:1", "99999:1", "4;1", "٤:1"],
)
def test_other_texts_are_refused(text):
    with pytest.raises(BenchnightError) as caught:
        parse_ratio(text)
    assert (caught.value.code, caught.value.field) == ("ratio.unreadable", "ratio")


@given(st.fractions(Fraction(1, 99), 999, max_denominator=99))
def test_writing_and_reading_back(ratio):
    assert parse_ratio(format_ratio(ratio)) == ratio


def test_house_defaults():
    # 20 dB is common practice; the others are the house's own.
    assert Limits() == Limits(benchmark_db=20, swr=1.5, loss_db=0.5, amplitude_db=1.0, phase_deg=10.0)
