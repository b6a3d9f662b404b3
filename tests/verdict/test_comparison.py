"""Where an own device stands among percentiles that are shown; numpy's interpolation is the reference."""

import numpy as np
import pytest

from measurements.verdict.comparison import estimate_percentile

SHOWN = {10.0: 20.0, 25.0: 22.0, 50.0: 24.0, 75.0: 25.0, 90.0: 30.0}


@pytest.mark.parametrize(("own", "place"), [(21.0, 17.5), (24.0, 50.0), (27.5, 82.5), (22.5, 31.25)])
def test_between_two_percentiles_it_is_linear(own, place):
    assert estimate_percentile(own, SHOWN) == pytest.approx(place)


@pytest.mark.parametrize(("own", "place"), [(-3.0, 10.0), (20.0, 10.0), (30.0, 90.0), (99.0, 90.0)])
def test_beyond_the_outer_ones_nothing_finer_is_said(own, place):
    assert estimate_percentile(own, SHOWN) == place


def test_in_the_middle_of_equals():
    assert estimate_percentile(22.0, {10.0: 22.0, 50.0: 22.0, 90.0: 22.0}) == 50.0
    assert estimate_percentile(22.0, {10.0: 20.0, 50.0: 22.0, 90.0: 22.0}) == 70.0


def test_nothing_gives_nothing():
    assert estimate_percentile(float("nan"), SHOWN) is None


def test_two_sweeps_within_one_step_tell_only_what_is_shown():
    """However finely an own figure is varied, the answer is a function of the five figures shown."""
    owns = np.linspace(15, 35, 401)
    got = [estimate_percentile(float(own), SHOWN) for own in owns]
    assert np.allclose(got, np.interp(owns, list(SHOWN.values()), list(SHOWN)))
