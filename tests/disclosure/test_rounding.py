"""Coarse figures and count bands."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.disclosure.rounding import (
    STEPS,
    build_impedances,
    coarsen_counts,
    format_count_band,
    round_figure,
    round_figures,
    round_phase,
)


# Worked by hand; ties to the even number of steps, as the docstring says.
@pytest.mark.parametrize(
    ("exact_db", "coarse", "fine"),
    [
        (22.24, 22.0, 22.0),
        (22.25, 22.0, 22.0),
        (22.26, 22.0, 22.5),
        (22.5, 22.0, 22.5),
        (22.75, 23.0, 23.0),
        (23.5, 24.0, 23.5),
        (-0.2, 0.0, 0.0),
    ],
)
def test_whole_and_half_decibels(exact_db, coarse, fine):
    assert round_figure(exact_db, "rejection_db", detailed=False) == coarse
    assert round_figure(exact_db, "rejection_db", detailed=True) == fine


# The steps are those of the trade's page: loss 0.1 then 0.05 dB, SWR 0.05 then 0.02.
@pytest.mark.parametrize(
    ("metric", "exact", "coarse", "fine"),
    [("loss_db", 0.337, 0.3, 0.35), ("loss_db", 0.151, 0.2, 0.15), ("swr", 1.234, 1.25, 1.24)],
)
def test_each_metric_has_steps_of_its_own(metric, exact, coarse, fine):
    assert round_figure(exact, metric, detailed=False) == coarse
    assert round_figure(exact, metric, detailed=True) == fine


def test_ties_are_not_pushed_one_way():
    ties_db = np.arange(10.25, 40.0, 0.5)
    assert (round_figures(ties_db, "rejection_db", True) - ties_db).mean() == pytest.approx(0.0, abs=0.01)


@given(st.floats(-100, 100), st.sampled_from(sorted(STEPS)), st.booleans())
def test_never_off_by_more_than_half_a_step_and_stays_when_rounded_again(value, metric, detailed):
    step = STEPS[metric][int(detailed)]
    got = round_figure(value, metric, detailed=detailed)
    assert abs(got - value) <= step / 2 + 1e-6
    assert round_figure(got, metric, detailed=detailed) == got


def test_missing_stays_missing_and_infinite_is_refused():
    assert round_figure(None, "swr", detailed=True) is None
    assert np.isnan(round_figures([np.nan, 20.1], "rejection_db", [True, False])).tolist() == [True, False]
    assert str(round_figure(-0.1, "rejection_db", detailed=False)) == "0.0"
    with pytest.raises(ValueError, match="infinite"):
        round_figures([np.inf], "rejection_db", True)


@given(st.floats(5, 20_000), st.floats(-1.6, 1.6), st.booleans())
def test_impedances_show_the_rounded_rejection_and_nothing_else(size_ohm, angle, detailed):
    """Rejection of a series impedance: 20 log10 |1 + Z/100| (C. Parker, Conformity, June 2008, p. 57)."""
    z_ohm = size_ohm * np.exp(1j * angle)
    exact_db = 20 * np.log10(abs(1 + z_ohm / 100))
    shown_db = float(round_figures(exact_db, "rejection_db", detailed))
    got = complex(build_impedances(shown_db, round_phase(angle, detailed)))
    if not np.isnan(got):
        assert 20 * np.log10(abs(1 + got / 100)) == pytest.approx(shown_db, abs=1e-9)
    assert abs(float(round_phase(angle, detailed)) - angle) <= np.pi / (100 if detailed else 50) + 1e-9


def test_impedances_that_are_close_become_the_same():
    near = [1000 + 40j, 1010 + 45j, 1021 + 35j]
    shown = {
        complex(
            build_impedances(
                round_figures(20 * np.log10(abs(1 + z_ohm / 100)), "rejection_db", False),
                round_phase(np.angle(z_ohm), False),
            )
        )
        for z_ohm in near
    }
    assert len(shown) == 1
    assert np.isnan(build_impedances([np.nan, -3.0], [0.0, 0.0])).all()


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
