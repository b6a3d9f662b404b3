"""Decisions by guard bands, against JCGM 106:2012 worked by hand."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.bands import Band, build_band_grid
from measurements.rf.instruments.decision import decide, get_band_uncertainty, join_decisions
from measurements.rf.instruments.withheld_verdicts import withhold_verdicts


@pytest.mark.parametrize(
    ("worst", "uncertainty", "high_is_good", "decision"),
    [
        (0.25, 0.25, False, "meets"),
        (0.31, 0.20, False, "too_close"),
        (0.69, 0.20, False, "too_close"),
        (0.75, 0.25, False, "falls_short"),
        (-0.73, 14.47, False, "too_close"),  # seen: "meets -0.73 dB" with an uncertainty of 14.47
        (0.10, None, False, "too_close"),
        (None, 0.10, False, "not_judged"),
        (0.75, 0.25, True, "meets"),
        (0.25, 0.25, True, "falls_short"),
        (0.50, 0.00, True, "meets"),
    ],
)
def test_a_figure_against_a_limit_of_a_half(worst, uncertainty, high_is_good, decision):
    assert decide(worst, uncertainty, 0.5, high_is_good=high_is_good) == decision


def test_two_limits_together():
    assert join_decisions("meets", "meets") == "meets"
    assert join_decisions("meets", "too_close") == "too_close"
    assert join_decisions("too_close", "falls_short") == "falls_short"
    assert join_decisions("meets", "not_judged") == "not_judged"
    assert join_decisions("falls_short", "not_judged") == "falls_short"


def test_a_less_certain_point_widens_the_worst_of_a_band():
    freq_hz = np.linspace(7.0e6, 7.3e6, 4)
    view = build_band_grid(freq_hz, (Band("40m", 7.0e6, 7.3e6),)).views[0]
    on = build_band_grid(freq_hz, (Band("40m", 7.0e6, 7.3e6),)).freq_hz
    loss_db, u_db = np.full(on.size, 0.2), np.full(on.size, 0.1)
    loss_db[0], u_db[1] = 0.3, 0.6
    # by hand: 0.2 + 0.6 - 0.3
    assert get_band_uncertainty(view, loss_db, u_db, "largest") == pytest.approx(0.5)
    u_db[2] = np.nan
    assert get_band_uncertainty(view, loss_db, u_db, "largest") is None


def test_a_flag_takes_the_verdict_of_its_band_or_of_all():
    bands = [{"band": name, "meets": True, "decision": "meets"} for name in ("80m", "40m")]

    def left(severity, band, code="any"):
        flags = [{"code": code, "severity": severity, "band": band}]
        return [each["decision"] for each in withhold_verdicts(bands, flags)]

    assert left("exclude", "40m") == ["meets", "not_judged"]
    assert left("exclude", None) == ["not_judged", "not_judged"]
    assert left("note", None) == ["meets", "meets"]
    assert left("exclude", None, "same_sweep") == ["meets", "meets"]  # a duplicate is no fault of the sweep
