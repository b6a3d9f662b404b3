"""Cores and turns for a ratio device: what the trade would expect, and what must be passed over."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import pytest

from measurements.errors import BenchnightError
from measurements.rf.bands import Band
from measurements.rf.ferrites import learned_windings, ratio_proposals
from measurements.rf.ferrites.ratio_proposals import CAPACITORS_F, RatioGoal
from measurements.rf.ferrites.winding_proposals import AvailableCore
from tests.rf.ferrites.test_ratio_prediction import BANDS, BIG_MM, TABLES

PRIOR = learned_windings.build_prior_windings(TABLES)
CORES = [AvailableCore(f"ring of {mix}", BIG_MM, mix) for mix in ("43", "61", "77")]
GOAL = RatioGoal(BANDS[:3], "voltage", Fraction(49), "single", 1.1)


def propose(cores=CORES, **changes):
    return ratio_proposals.propose_ratio_windings(PRIOR, TABLES, cores, replace(GOAL, **changes))


def test_a_49_to_1_on_a_61_mm_ring_of_mix_43_takes_two_to_four_turns():
    """Common practice, from memory: 2:14 or 3:21 turns on such rings of mix 43, one or two of them."""
    found = propose(CORES[:1])
    assert {row.wound.near_turns for row in found} <= {2, 3, 4}
    assert all(row.wound.far_turns == 7 * row.wound.near_turns for row in found)


def test_bands_further_down_take_more_turns_or_more_core():
    low, high = (
        propose(CORES[:1], bands=(band,), stacks=(1,))[0].wound.near_turns for band in (BANDS[0], BANDS[3])
    )
    assert low > high


def test_a_capacitor_is_proposed_only_where_it_helps():
    without = propose(CORES[:1], bands=BANDS, stacks=(2,))[0]
    allowed = propose(CORES[:1], bands=BANDS, stacks=(2,), capacitors_f=CAPACITORS_F)[0]
    assert allowed.wound.compensation_f > 0
    assert allowed.worst < without.worst


def test_every_proposal_keeps_to_one_layer_and_to_the_ratio():
    for row in propose(ratio=Fraction(9), style="trifilar"):
        assert row.wound.filar == 3
        assert row.wound.far_turns * 1.1 < 3.1416 * (35.55 - 1.1)


def test_a_mix_whose_table_begins_above_a_band_is_passed_over():
    assert not propose(CORES[1:2], bands=(Band("630m", 0.472e6, 0.479e6),))


def test_two_wires_side_by_side_cannot_make_49_to_1():
    with pytest.raises(BenchnightError) as caught:
        ratio_proposals.check_style(replace(GOAL, style="bifilar"))
    assert caught.value.field == "style"
