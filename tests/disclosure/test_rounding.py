"""Coarse figures and count bands of the public circle."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.disclosure.evidence_view import coarsen_counts, coarsen_db, format_count_band, round_db


# Worked by hand; ties to the even number of half decibels, as the docstring says.
@pytest.mark.parametrize(
    ("exact_db", "coarse"),
    [(22.24, 22.0), (22.25, 22.0), (22.26, 22.5), (22.74, 22.5), (22.75, 23.0), (23.25, 23.0), (-0.2, 0.0)],
)
def test_half_decibel_steps(exact_db, coarse):
    assert round_db(exact_db) == coarse


def test_ties_are_not_pushed_one_way():
    ties_db = np.arange(10.25, 40.0, 0.5)
    assert (coarsen_db(ties_db) - ties_db).mean() == pytest.approx(0.0, abs=0.01)


@given(st.floats(-100, 100))
def test_never_off_by_more_than_a_quarter_decibel_and_always_on_a_step(value_db):
    coarse = round_db(value_db)
    assert abs(coarse - value_db) <= 0.25
    assert (coarse * 2).is_integer()
    assert round_db(coarse) == coarse


def test_missing_stays_missing_and_infinite_is_refused():
    assert round_db(None) is None
    assert np.isnan(coarsen_db([np.nan, 20.1])).tolist() == [True, False]
    assert str(round_db(-0.1)) == "0.0"
    with pytest.raises(ValueError, match="infinite"):
        coarsen_db([np.inf])


@pytest.mark.parametrize(
    ("count", "band"),
    [
        (2, "2-4"),
        (4, "2-4"),
        (5, "5-9"),
        (9, "5-9"),
        (10, "10-19"),
        (19, "10-19"),
        (20, "20-49"),
        (50, "50-99"),
        (99, "50-99"),
        (100, "100-199"),
        (1234, "1000-1999"),
    ],
)
def test_count_bands(count, band):
    assert format_count_band(count) == band


@given(st.integers(2, 100_000))
def test_a_band_holds_its_count_and_begins_where_lists_are_ordered(count):
    low, high = map(int, format_count_band(count).split("-"))
    assert low <= count <= high
    assert int(coarsen_counts(count)) == low


def test_one_device_is_no_band():
    for count in (0, 1):
        with pytest.raises(ValueError, match="under two"):
            format_count_band(count)
    assert coarsen_counts([0, 1, 7]).tolist() == [0, 1, 5]
    with pytest.raises(ValueError, match="negative"):
        coarsen_counts([-1])
