"""Diagnosis of ratio devices: right, wrong and silent counted over invented devices; figures in the words."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from measurements.rf.diagnosis import change_posterior, ratio_causes, ratio_hypotheses
from measurements.rf.diagnosis.change_posterior import AS_BUILT
from tests.rf.diagnosis import invented_ratio_changes as invented
from tests.rf.diagnosis.invented_ratio_changes import TABLES


def diagnose(kind: str, seed: int, **changes):
    case = invented.make_case(kind, np.random.default_rng(seed), **changes)
    return case, ratio_causes.diagnose_ratio_device(case.wound, case.sweep, TABLES)


def test_a_few_devices_are_named_rightly_or_not_at_all():
    total, pairs = invented.count(11, seed=1)
    print(dict(total), dict(pairs))
    assert total["wrong"] == 0 and total["right"] >= 4


@pytest.mark.long
@pytest.mark.parametrize("with_loss", [True, False])
def test_at_most_two_percent_are_named_wrongly(with_loss):
    total, pairs = invented.count(220, seed=900, with_loss=with_loss)
    print("with loss" if with_loss else "match alone", dict(total))
    for (truth, named), times in sorted(pairs.items()):
        print(f"  {truth:18} {named:18} {times}")
    assert total["wrong"] <= 0.02 * 220
    if with_loss:
        assert total["right"] >= 0.6 * 200  # of the devices with a change
    else:  # the match alone knows less
        assert total["right"] >= 0.4 * 220


def test_a_wrong_count_is_said_with_both_counts_and_the_figures_it_rests_on():
    case, found = diagnose("turns_ratio", 5)
    (cause,) = found.causes
    assert cause.code == "turns_ratio" and "count both windings" in cause.message
    assert f"an SWR of {cause.own_swr:.1f}" in cause.message
    assert f"a loss of {cause.own_loss_db:.1f} dB" in cause.message
    assert cause.own_swr > cause.usual_swr and case.sweep.loss_db is not None


def test_a_resistance_in_series_is_named_with_its_ohms_and_the_loss_it_adds():
    """The simulated device has between 3 and 12 ohm in series."""
    _, found = diagnose("connection", 5)
    (cause,) = found.causes
    assert (cause.code, cause.unit) == ("connection", "ohm") and 3 <= cause.size <= 12
    assert cause.own_loss_db > cause.usual_loss_db + 0.2


@pytest.mark.parametrize(
    ("more_db", "swr", "where"),
    [
        ([1.0, 0.0, 0.0, 0.0], 1.2, "low_end"),
        ([0.0, 0.0, 0.1, 1.5], 1.2, "high_end"),
        ([0.8, 0.8, 0.8, 0.8], 1.2, "everywhere"),
        ([0.8, 0.8, 0.8, 0.8], 2.2, "ratio"),
        ([0.0, 0.1, 0.0, 0.1], 1.2, "nowhere"),
    ],
)
def test_where_it_is_worse_follows_from_the_ends_and_the_middle(more_db, swr, where):
    freq_hz, usual = np.geomspace(1.8e6, 30e6, 24), np.full(24, 0.3)
    seen = ratio_causes.ComparedCurves(
        freq_hz, np.full(24, swr), np.full(24, 1.2), usual + np.repeat(more_db, 6), usual
    )
    assert seen.where == where


def test_a_device_as_built_has_no_cause():
    _, found = diagnose(AS_BUILT, 5)
    assert found.causes == () and sum(each.share for each in found.likelihoods) <= 1.0001


def test_what_the_model_does_not_reach_is_not_judged():
    case, _ = diagnose(AS_BUILT, 5)
    current = replace(
        case.wound, principle="current", ratio=Fraction(4), style="bifilar", near_turns=8, far_turns=16
    )
    assert ratio_causes.diagnose_ratio_device(current, case.sweep, TABLES) is None
    assert ratio_causes.diagnose_ratio_device(replace(case.wound, mix="52"), case.sweep, TABLES) is None
    few = replace(
        case.sweep,
        freq_hz=case.sweep.freq_hz[:6],
        s11=case.sweep.s11[:6],
        loss_db=case.sweep.loss_db[:6],
    )
    assert ratio_causes.diagnose_ratio_device(case.wound, few, TABLES) is None


def test_shares_keep_something_for_what_no_model_knows():
    shares, none = change_posterior.compute_shares(np.array([0.0, -50.0]), -80.0, np.array([True, True]))
    assert shares[0] == pytest.approx(0.97) and none == pytest.approx(0.03)
    shares, none = change_posterior.compute_shares(np.array([0.0, -1.0]), -80.0, np.array([False, False]))
    assert shares.tolist() == pytest.approx([0.03, 0.0]) and none == pytest.approx(0.97)


def test_half_of_the_prior_is_as_built_before_they_are_brought_to_their_sum():
    assert ratio_hypotheses.RATIO_PRIORS[AS_BUILT] == 0.5
    assert sum(ratio_hypotheses.RATIO_PRIORS.values()) == pytest.approx(1.12, abs=0.001)
