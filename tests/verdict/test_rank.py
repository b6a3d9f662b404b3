"""The order in which designs are offered."""

import random

from measurements.verdict.band_verdict import judge_design
from measurements.verdict.decision_rule import RankedDesign, rank_designs

BEST_FIRST = [
    RankedDesign("twenty_of_twenty", "typically_meets", 0.92, 3.0),
    RankedDesign("three_of_three", "typically_meets", 0.646, 9.0),
    RankedDesign("three_of_three_closer", "typically_meets", 0.646, 2.0),
    RankedDesign("a_tie", "mixed", 0.45, 1.0),
    RankedDesign("b_tie", "mixed", 0.45, 1.0),
    RankedDesign("short", "typically_falls_short", 0.1, -4.0),
    RankedDesign("unknown", "not_enough_devices", None, None),
    RankedDesign("unknown_too", "not_enough_devices", None, None),
]


def test_any_order_in_gives_the_one_order_out():
    for seed in range(20):
        shuffled = BEST_FIRST[:]
        random.Random(seed).shuffle(shuffled)
        assert rank_designs(shuffled) == BEST_FIRST


def test_evidence_beats_a_single_fine_device():
    many = judge_design([21.0] * 20, 20.0, 20)
    few = judge_design([38.0] * 3, 20.0, 3)
    standings = [
        RankedDesign(key, v.verdict, v.share_low, v.median - 20.0)
        for key, v in (("few", few), ("many", many))
    ]
    assert [s.key for s in rank_designs(standings)] == ["many", "few"]


def test_figures_not_shown_go_after_figures_shown():
    shown = RankedDesign("z", "mixed", 0.3, 0.0)
    hidden = RankedDesign("a", "mixed", None, 0.5)
    assert rank_designs([hidden, shown]) == [shown, hidden]
