"""Figures go into a block of bytes and come out as they were published, to the last digit."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.disclosure import published_figures
from measurements.disclosure.published_figures import round_to_four_digits
from measurements.disclosure.release_rows import split_into_portions

BANDS = ("160m", "80m", "40m")
DECIBELS = st.floats(-5, 120).map(lambda value: round(value, 2))
OHMS = st.one_of(st.none(), st.floats(1e-3, 1e7).map(round_to_four_digits))
OWN = st.builds(
    lambda coverage, db, ohms: {
        "coverage": coverage,
        **dict(zip(published_figures.PACKED_FIGURES, db + ohms, strict=True)),
    },
    st.sampled_from(["full", "interpolated"]),
    st.lists(DECIBELS, min_size=3, max_size=3),
    st.lists(OHMS, min_size=2, max_size=2),
)


@given(st.dictionaries(st.sampled_from(BANDS), OWN))
def test_what_is_packed_comes_out_as_it_was(banded):
    rows = {band: list(own.values()) for band, own in banded.items()}
    figures, coverage = published_figures.pack_figures(rows, BANDS)
    found = {
        band: {"coverage": covered, **dict(zip(published_figures.PACKED_FIGURES, values, strict=True))}
        for band, covered, *values in published_figures.unpack_figures(BANDS, figures, coverage)
    }
    assert found == banded


def test_a_block_of_other_bands_is_refused():
    figures, coverage = published_figures.pack_figures({}, BANDS)
    with pytest.raises(ValueError, match="reshape"):
        list(published_figures.unpack_figures(BANDS[:2], figures, coverage))


def test_portions_keep_order_and_none_is_cut():
    sized = [("a", 3), ("b", 4), ("c", 1), ("d", 9), ("e", 1)]
    assert list(split_into_portions(sized, 5)) == [["a", "b"], ["c", "d"], ["e"]]
    assert list(split_into_portions([], 5)) == []
