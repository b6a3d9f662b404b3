"""Words for a check standard that is out of control: which bands moved points at what to look at."""

import numpy as np
import pytest

from measurements.verdict import check_advice, control_chart
from measurements.verdict.check_advice import ALL_BANDS, LOWER_BANDS, SINGLE_BANDS, UPPER_BANDS

BANDS = ("160m", "80m", "60m", "40m", "30m", "20m", "17m", "15m", "12m", "10m")
LIMITS = control_chart.compute_limits(np.full((6, 10), 24.0) + np.linspace(-0.1, 0.1, 6)[:, None], 0.3)


def judge(moves):
    sweep = 24.0 + np.asarray(moves, dtype=float)
    return sweep, control_chart.find_bands_outside(LIMITS, sweep)


@pytest.mark.parametrize(
    ("moves", "sentence"),
    [
        ([2.5] * 10, ALL_BANDS),
        ([-2.5] * 10, ALL_BANDS),
        ([0, 0, 0, 0, 0, 1.5, 2, 2, 3, 3], UPPER_BANDS),
        ([-3, -3, -2, -2, -2, 0, 0, 0, 0, 0], LOWER_BANDS),
        ([0, 0, 0, 4, 0, 0, 0, 0, 0, 0], SINGLE_BANDS),
        ([3, -3, 3, -3, 3, -3, 3, -3, 3, -3], SINGLE_BANDS),
    ],
)
def test_what_to_look_at_follows_the_bands_that_moved(moves, sentence):
    sweep, outside = judge(moves)
    said = check_advice.advise(sweep, LIMITS, outside)
    assert sentence in said and said.startswith(check_advice.SWEEP_AGAIN) and said.endswith(check_advice.THEN)


def test_the_sentence_names_the_farthest_bands_with_their_usual_range():
    sweep, outside = judge([0, 0, 0, 9, 0, 5, 5, 5, 0, 0])
    found = check_advice.list_bands_outside(BANDS, sweep, LIMITS, outside)
    assert found[0].band == "40m" and len(found) == 4
    said = check_advice.describe_outside("rejection_db", found)
    assert "rejection on 40m read 33.0 dB, where " in said and said.endswith(
        "1 more band left the usual range too."
    )
    assert check_advice.describe_outside("swr", found[:1]).count("33.00") == 1


def test_few_bands_move_together_or_not():
    limits = control_chart.compute_limits(np.full((6, 2), 1.05), 0.02)
    both, one = np.array([1.3, 1.3]), np.array([1.3, 1.05])
    for sweep, sentence in ((both, ALL_BANDS), (one, SINGLE_BANDS)):
        outside = control_chart.find_bands_outside(limits, sweep)
        assert outside.any() and sentence in check_advice.advise(sweep, limits, outside)
