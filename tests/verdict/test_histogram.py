"""Bins that three persons or more stand behind; no source, the rule is the group's own."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from measurements.verdict.contributor_counts import UNKNOWN_PERSON
from measurements.verdict.histogram import Bin, build_histogram


def test_a_worked_example():
    figures = [20.2, 20.4, 20.9, 21.5, 22.1, 22.9, 25.0]
    assert build_histogram(figures, range(7), 1.0) == (Bin(None, 21.0, 3), Bin(21.0, None, 4))


def test_one_person_with_many_devices_fills_no_bin():
    assert build_histogram([20.1] * 5 + [25.0], [0, 0, 0, 1, 1, 2], 1.0) is None


def test_unknown_persons_and_missing_figures():
    assert build_histogram([20.0] * 9, [UNKNOWN_PERSON] * 9, 1.0) is None
    assert build_histogram([np.nan] * 9, range(9), 1.0) is None


@given(st.lists(st.tuples(st.floats(-5, 60), st.integers(0, 15)), max_size=40), st.sampled_from([0.1, 1.0]))
def test_every_bin_holds_three_persons_and_all_figures_are_in_one(rows, step):
    figures = np.array([value for value, _ in rows])
    persons = np.array([who for _, who in rows], dtype=int)
    got = build_histogram(figures, persons, step)
    if got is None:
        return
    assert sum(each.devices for each in got) == len(rows)
    for each in got:
        low = -np.inf if each.low is None else each.low - 1e-6
        high = np.inf if each.high is None else each.high + 1e-6
        inside = (figures >= low) & (figures <= high)
        assert len(set(persons[inside].tolist())) >= 3
