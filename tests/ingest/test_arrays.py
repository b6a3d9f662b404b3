"""Curves as they are stored for display."""

from __future__ import annotations

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from measurements.ingest.arrays import significant


@given(st.lists(st.floats(1e-12, 1e12) | st.floats(-1e12, -1e-12) | st.just(0.0), min_size=1))
def test_significant_digits_are_those_of_formatting(values):
    found = significant(np.array(values), 7)
    # reference: Python's own formatting; a tie may fall either way, so one unit of the last digit is allowed
    for value, short in zip(values, found, strict=True):
        wanted = float(f"{value:.7g}")
        assert abs(short - wanted) <= 1.0001e-6 * abs(wanted)
        assert len(repr(short).replace("-", "").replace(".", "").split("e")[0].strip("0")) <= 7


def test_what_is_not_a_number_is_null():
    assert significant(np.array([1.23456789, np.nan, np.inf, -np.inf, 0.0]), 7) == [
        1.234568,
        None,
        None,
        None,
        0.0,
    ]
