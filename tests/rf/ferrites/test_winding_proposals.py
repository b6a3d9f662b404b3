"""Proposals: what fits, what limits, and whether the chances are those of devices that are then built."""

from __future__ import annotations

import json
from pathlib import Path

import numpy as np
import pytest

from measurements.rf.bands import Band
from measurements.rf.ferrites import learned_windings, learning, winding_proposals
from measurements.rf.ferrites.winding_model import build_stacked_winding
from measurements.rf.ferrites.winding_proposals import AvailableCore, WindingGoal
from tests.rf.invented_windings import BANDS, TABLES, Group

LISTED = json.loads(
    (Path(__file__).parents[3] / "fixtures/reference/cores.json").read_text(encoding="utf-8")
)["rows"]
DRAWER = [
    AvailableCore(row["part"], (row["outer_mm"], row["inner_mm"], row["height_mm"]), row["mix"])
    for row in LISTED
    if row["shape"] in ("toroid", "bead") and row["inner_mm"]
]
RING31 = AvailableCore("2631803802", (61.0, 35.55, 12.7), "31")
RING61 = AvailableCore("5961003801", (61.0, 35.55, 12.7), "61")


def wish(bands=BANDS[1:4], benchmark_db=20.0, **changes) -> WindingGoal:
    given = {"style": "coax", "wires": 1, "wire_mm": 4.95, "split": False, "lines": 1, "stacks": (1, 2)}
    return WindingGoal(tuple(bands), benchmark_db, **(given | changes))


def search(cores=DRAWER, asked=None, believed=None):
    return winding_proposals.propose_windings(
        believed or learned_windings.build_prior_windings(TABLES), TABLES, cores, asked or wish()
    )


def test_the_likeliest_comes_first_and_every_core_once():
    found = search()
    steps = [round(each.chance / winding_proposals.ALIKE_CHANCE) for each in found]
    assert steps == sorted(steps, reverse=True) and found[0].chance > 0.9
    assert len({(each.core.name, each.count) for each in found}) == len(found) == 12
    for each in found:
        assert 0 <= each.chance <= min(band.chance for band in each.bands)
        assert [band.band for band in each.bands] == ["80m", "40m", "20m"]
        assert all(band.low_db < band.median_db < band.high_db for band in each.bands)
        assert each.turns_alike[0] <= each.wound.turns <= each.turns_alike[1]


def test_turns_fit_the_bore():
    # an RG-58 of 4.95 mm in a bore of 7.9 mm: one pass and no second one
    small = AvailableCore("small", (12.7, 7.9, 6.35), "43")
    assert winding_proposals.count_fitting_turns(small, wish()) == 1
    assert winding_proposals.count_fitting_turns(small, wish(wire_mm=8.0)) == 0
    assert search([small], wish(wire_mm=8.0)) == []
    assert all(
        each.wound.turns <= winding_proposals.count_fitting_turns(each.core, wish()) for each in search()
    )
    # 4.95/30.6 is the sine of 9.31 degrees, and 19 of them make half a turn
    assert winding_proposals.count_fitting_turns(RING31, wish()) == 19
    bifilar = wish(wires=2, style="bifilar")
    assert (
        winding_proposals.count_fitting_turns(RING31, bifilar)
        == winding_proposals.count_fitting_turns(RING31, wish()) // 2
    )


def test_what_limits_a_winding_is_named():
    high = Band("10m", 28e6, 29.7e6)
    low = Band("160m", 1.8e6, 2.0e6)
    # sixty uH and four pF resonate near 10 MHz: on 28 MHz a turn more makes it worse
    over = build_stacked_winding(RING31.size_mm, 2, mix="31", style="coax", turns=17, wire_mm=4.95)
    assert (
        winding_proposals.find_chance_limit(
            learned_windings.build_prior_windings(TABLES), TABLES["31"], over, high
        )
        == "resonance"
    )
    # ten turns of mix 61: 17 uH, 210 ohm on 160 m
    under = build_stacked_winding(RING61.size_mm, 1, mix="61", style="coax", turns=10, wire_mm=4.95)
    assert (
        winding_proposals.find_chance_limit(
            learned_windings.build_prior_windings(TABLES), TABLES["61"], under, low
        )
        == "inductance"
    )
    (first,) = search([RING61], wish(bands=[low, high], benchmark_db=25.0, stacks=(1,)))
    assert first.chance < 0.2 and {band.limit for band in first.bands} - {None}


def test_mixes_without_a_table_or_short_of_a_band_are_passed_over():
    below = Band("630m", 472e3, 479e3)  # the table of mix 61 starts at 1 MHz
    found = search([RING31, RING61, AvailableCore("a", (61, 35.55, 12.7), "52")], wish(bands=[below]))
    assert {each.core.mix for each in found} == {"31"}


def test_beads_are_counted_and_not_wound():
    bead = AvailableCore("2643625002", (16.25, 7.29, 14.3), "43")
    found = search([bead], wish(style="beads_on_coax", stacks=(10, 30, 60)))
    assert {each.wound.turns for each in found} == {1}
    assert found[0].count > 10  # ten beads of mix 43 are 400 ohm at best


def test_a_chance_is_the_share_of_devices_that_are_then_built():
    group = Group(seed=21)
    seen, _ = group.designs(40)
    believed = learning.learn_model(TABLES, seen)
    told, came_true = [], []
    for benchmark_db in (24.0, 28.0, 31.0):
        for each in search(asked=wish(benchmark_db=benchmark_db), believed=believed):
            worst = group.design("new", each.wound, 8)[1].worst_db[:, 1:4]
            told.append(each.chance)
            came_true.append((worst >= benchmark_db).all(axis=1).mean())
    assert 0.1 < np.mean(told) < 0.99
    assert np.mean(came_true) == pytest.approx(np.mean(told), abs=0.1)


def test_a_design_of_the_evidence_is_recognised_and_counts():
    group = Group(seed=22)
    wound = build_stacked_winding(RING31.size_mm, 1, mix="31", style="coax", turns=12, wire_mm=4.95)
    seen, _ = group.design("known", wound, 9)
    believed = learning.learn_model(TABLES, [seen])
    built = winding_proposals.KnownDesigns({"known": believed.designs["known"].wound})
    assert built.key_of(wound) == "known"
    other = build_stacked_winding(RING31.size_mm, 1, mix="31", style="coax", turns=13, wire_mm=4.95)
    assert built.key_of(other) is None
    own, _ = winding_proposals.judge_winding(believed, TABLES["31"], wound, wish(), "known")
    anew, _ = winding_proposals.judge_winding(believed, TABLES["31"], wound, wish())
    assert 0 <= own <= 1 and 0 <= anew <= 1
