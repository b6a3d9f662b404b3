"""Curves as they are stored for display."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.rf.sweeps.result_values import format_traces, pack_traces, round_significant, unpack_traces


@given(st.lists(st.floats(1e-12, 1e12) | st.floats(-1e12, -1e-12) | st.just(0.0), min_size=1))
def test_significant_digits_are_those_of_formatting(values):
    found = round_significant(np.array(values), 7)
    # reference: Python's own formatting; a tie may fall either way, so one unit of the last digit is allowed
    for value, short in zip(values, found, strict=True):
        wanted = float(f"{value:.7g}")
        assert abs(short - wanted) <= 1.0001e-6 * abs(wanted)
        assert len(repr(short).replace("-", "").replace(".", "").split("e")[0].strip("0")) <= 7


def test_what_is_not_a_number_is_null():
    assert round_significant(np.array([1.23456789, np.nan, np.inf, -np.inf, 0.0]), 7) == [
        1.234568,
        None,
        None,
        None,
        0.0,
    ]


@given(st.integers(0, 4), st.integers(1, 9), st.randoms())
def test_what_was_packed_comes_back_in_single_precision(count, points, random):
    values = [
        [random.choice([random.uniform(-1e6, 1e6), np.nan]) for _ in range(points)] for _ in range(count)
    ]
    traces = {f"trace {index}": np.array(row) for index, row in enumerate(values)}
    found = unpack_traces(*pack_traces(traces))
    assert list(found) == list(traces)
    for name, wanted in traces.items():
        # half a unit in the last of 24 bits (IEEE 754)
        np.testing.assert_allclose(found[name], wanted, rtol=2.0**-24, atol=2.0**-126)


def test_the_layout_is_rows_of_little_endian_single_precision():
    """Worked by hand (IEEE 754): 1.0 is 3f800000, -2.5 is c0200000."""
    names, packed = pack_traces({"a": np.array([1.0]), "b": np.array([-2.5])})
    assert (names, packed.hex()) == (["a", "b"], "0000803f" + "000020c0")
    assert format_traces(unpack_traces(names, packed)) == {"a": [1.0], "b": [-2.5]}
    assert format_traces(unpack_traces(*pack_traces({"a": np.array([1e39, np.nan])}))) == {"a": [None, None]}


def test_curves_of_several_lengths_are_no_block():
    with pytest.raises(ValueError, match="same shape"):
        pack_traces({"a": np.zeros(2), "b": np.zeros(3)})
    with pytest.raises(ValueError, match="reshape"):
        unpack_traces(["a", "b"], b"\0" * 12)
