"""Learning recovers an invented group's truth (`invented_windings`), and falls back to the tables without
it.
"""

from __future__ import annotations

import json
from dataclasses import replace

import numpy as np
import pytest

from measurements.rf.ferrites import learned_windings, learning, leave_one_out, prediction, winding_terms
from measurements.rf.ferrites.design_evidence import rejection_of_impedance_db
from measurements.rf.ferrites.winding_model import build_stacked_winding
from tests.rf.invented_windings import BANDS, FREQ_HZ, TABLES, Group, public_view


@pytest.fixture(scope="module")
def taught():
    group = Group(seed=11)
    seen, worst = group.designs(40)
    return group, seen, worst, learning.learn_model(TABLES, seen)


def test_the_effective_permeability_of_every_mix_is_found(taught):
    group, _, _, believed = taught
    left, before = [], []
    for mix in TABLES:
        mean, covariance = believed.of(mix)
        true = np.log(group.true_mu(mix, FREQ_HZ)) - winding_terms.table_log_mu(TABLES[mix], FREQ_HZ)
        left.append(np.abs(learned_windings.log_mu_correction(mean, FREQ_HZ) - true).mean())
        before.append(np.abs(true).mean())
        spread = np.sqrt(np.diag(covariance))[: winding_terms.KNOTS_HZ.size]
        assert spread[3:7].max() < 0.75 * winding_terms.LEVEL_SPREAD
    # eight designs a mix, each 4 % off by itself in its core and 8 % per device
    assert max(left) < 0.08 and sum(left) < 0.5 * sum(before)


def test_the_capacitance_of_windings_nobody_made_is_found(taught):
    group, _, _, believed = taught
    for style, turns, wire_mm in (("coax", 7, 4.95), ("bifilar", 15, 1.3), ("single", 11, 2.6)):
        wound = build_stacked_winding((40, 24, 15), 1, mix="43", style=style, turns=turns, wire_mm=wire_mm)
        mean, _ = believed.of("43")
        ratio = np.exp(learned_windings.log_stray_f(mean, wound)) / group.true_stray_f(wound)
        assert ratio == pytest.approx(1, abs=0.3)


def test_spreads_of_builds_are_found(taught):
    _, _, _, believed = taught
    assert believed.spreads.device[0] == pytest.approx(0.08, abs=0.025)
    assert believed.spreads.device[1] == pytest.approx(0.15, abs=0.05)


def test_without_evidence_it_is_the_table(taught):
    before = learned_windings.build_prior_windings(TABLES)
    assert learning.learn_model(TABLES, []).mean.tolist() == before.mean.tolist()
    wound = build_stacked_winding((61, 35.55, 12.7), 1, mix="31", style="coax", turns=12, wire_mm=4.95)
    z_ohm = prediction.predict_nominal_ohm(before, TABLES["31"], wound, np.array([1e6]))
    # 12 turns of mix 31 at 1 MHz without capacitance: 574.8 + 1738.0j (computed apart from this code);
    # 4 pF at 1 MHz raises it by 4 %
    assert z_ohm[0] == pytest.approx(574.8 + 1738.0j, rel=0.06)
    assert learned_windings.log_mu_correction(before.of("31")[0], FREQ_HZ).tolist() == [0j] * FREQ_HZ.size


def test_one_design_moves_a_mix_less_than_twenty_do():
    group = Group(seed=12, mixes=("31", "43"), design_core=0.0)
    group.off["31"][:] = (2.0, 0.0, 0.0)  # 20 % above its table
    wounds = [
        build_stacked_winding((61, 35.55, 12.7), 1, mix="31", style="coax", turns=n, wire_mm=2.6)
        for n in range(5, 25)
    ]
    seen = [group.design(f"d{index}", wound, 6)[0] for index, wound in enumerate(wounds)]

    def level(designs):
        return learned_windings.log_mu_correction(
            learning.learn_model(TABLES, designs).of("31")[0], FREQ_HZ
        ).real.mean()

    one, many = level(seen[:1]), level(seen)
    assert 0.05 < one < many < 0.25 and many == pytest.approx(0.2, abs=0.03)
    untouched = learning.learn_model(TABLES, seen).of("77")[0][: 2 * winding_terms.KNOTS_HZ.size]
    assert np.abs(untouched).max() < 1e-9  # nobody swept that mix


def test_left_out_designs_fall_into_their_interval_and_beat_both_rivals(taught):
    _, seen, worst, _ = taught
    found = leave_one_out.validate_model(TABLES, seen[:20], worst, BANDS)
    assert found.left_out == 20 and found.devices == sum(each.devices for each in seen[:20])
    assert 0.70 <= found.coverage <= 0.90
    assert found.better and found.errors.model_db < 0.75 * found.errors.physics_db
    assert found.errors.model_db < found.errors.nearest_db
    assert sum(each.figures for each in found.by_mix.values()) == found.errors.figures


def test_the_public_learns_from_rounded_medians_alone(taught):
    _, seen, worst, _ = taught
    coarse, medians = public_view(seen[:16], worst)
    found = leave_one_out.validate_model(TABLES, coarse, medians, BANDS)
    assert found.coverage is None and found.devices == 0
    assert found.errors.model_db < found.errors.physics_db


def test_a_group_without_structure_is_not_called_better():
    # every design on a mix of its own table: nothing to learn from the others but the capacitance
    group = Group(seed=13, mixes=("31",))
    seen, worst = group.designs(1)
    found = leave_one_out.validate_model(TABLES, seen, worst, BANDS)
    assert found.errors.nearest_db is None and found.better is False  # alone it is the table itself


def test_a_design_with_evidence_is_predicted_from_its_own(taught):
    _, seen, worst, believed = taught
    errors = []
    for each in seen[:15]:
        edges = np.array([edge for band in BANDS for edge in (band.start_hz, band.stop_hz)])
        drawn = prediction.draw_model(believed, each.wound.mix, TABLES[each.wound.mix], edges)
        own = prediction.predict_design_ohm(believed, drawn, TABLES[each.wound.mix], each.wound, each.key)
        low, middle, high = prediction.compute_interval(
            rejection_of_impedance_db(own).reshape(len(own), -1, 2).min(axis=2)
        )
        errors.append(np.abs(middle - np.median(worst[each.key].worst_db, axis=0)))
        assert (low < high).all()
    assert np.median(errors) < 0.5


def test_what_is_kept_of_it_is_the_same_again(taught):
    *_, believed = taught
    again = learned_windings.parse_learned_windings(
        json.loads(json.dumps(learned_windings.format_learned_windings(believed)))
    )
    assert np.allclose(again.mean, believed.mean) and np.allclose(again.covariance, believed.covariance)
    assert again.spreads == believed.spreads and again.heard == believed.heard
    assert again.designs.keys() == believed.designs.keys()
    assert again.designs["design-3"].wound == believed.designs["design-3"].wound
    assert learned_windings.parse_learned_windings({"form": 0}) is None


def test_of_a_large_group_every_kth_design_teaches_and_all_are_known(taught, monkeypatch):
    _, seen, _, believed = taught
    monkeypatch.setattr(learning, "MOST_DESIGNS", 20)
    fewer = learning.learn_model(TABLES, seen)
    assert fewer.designs.keys() == believed.designs.keys()
    assert sum(each.designs for each in fewer.heard.values()) == 40
    apart = [fewer.designs[key].mean - believed.designs[key].mean for key in believed.designs]
    assert np.abs(apart).mean() < 0.1  # what the coefficients do not hold, the designs' own shifts do


def test_a_design_that_makes_no_sense_teaches_nothing_to_the_others(taught):
    _, seen, worst, _ = taught
    rng = np.random.default_rng(5)
    noise = np.exp(rng.normal(0, 4, FREQ_HZ.size) + 1j * rng.uniform(-3, 3, FREQ_HZ.size))
    broken = [
        replace(seen[0], z_ohm=noise, curves_ohm=np.array([noise, 3 * noise])),
        replace(seen[1], z_ohm=1e4 * seen[1].z_ohm),
        *seen[2:12],
    ]
    found = leave_one_out.validate_model(
        TABLES, broken, {key: worst[key] for key in list(worst)[2:12]}, BANDS
    )
    assert found.better and found.errors.model_db < 1.0
    assert found.coverage > 0.7
