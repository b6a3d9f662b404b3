"""One device, one diagnosis: what is said of a curve in several places never contradicts itself."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.diagnosis import core_identification, curve_difference
from measurements.rf.diagnosis.curve_difference import OwnCurve
from measurements.rf.diagnosis.outlying_curve import RecipeFacts
from measurements.rf.evidence_grid import GRID_HZ
from measurements.rf.ferrites import ferrite_cores
from tests.rf.invented_group import Bench, rejection_db
from tests.rf.invented_windings import TABLES
from tests.rf.mix_tables import TOROID_MM, mu, winding_ohm


def told(bench, own_ohm):
    own = OwnCurve(own_ohm, rejection_db(own_ohm))
    found = curve_difference.explain_difference(
        bench.design(10), own, RecipeFacts(bench.turns, bench.mix), TABLES
    )
    assert found is not None and found.outlier
    return found


@pytest.mark.parametrize("turns", [5, 6, 18])
def test_the_turns_of_the_cause_are_the_turns_of_the_likeliest(turns):
    """Seen: "12 turns would behave as 6" beside "9 turns in place of 12, 100 %"."""
    bench = Bench(seed=turns)
    found = told(bench, bench.device_ohm(turns=turns))
    (cause,) = found.causes
    assert cause.code == "turn_count" and round(cause.behaves_as) == turns
    assert found.likelihoods[0].what == f"{turns} turns in place of 12"
    assert found.likelihoods[0].share < 0.99


def test_nothing_is_ever_certain():
    bench = Bench(seed=3)
    for changes in ({"turns": 6}, {"mix": "43"}, {"extra_f": 2e-11}):
        found = told(bench, bench.device_ohm(**changes))
        assert all(each.share < 0.985 for each in found.likelihoods)


@pytest.mark.parametrize("factor", [0.5, 2.0])
@pytest.mark.parametrize("mix", ["31", "43", "77"])
def test_a_core_whose_measured_size_contradicts_it_is_not_named(mix, factor):
    """Seen: a core named with share 1.000 though its measured size is off by a factor of two."""
    freq_hz = np.linspace(1e6, 30e6, 201)
    z_ohm = winding_ohm(mix, 8, freq_hz, stray_f=2e-12)
    size_m = ferrite_cores.toroid_factor_m(*TOROID_MM)
    found = core_identification.identify_mix(TABLES, 8, freq_hz, z_ohm, factor * size_m)
    assert found.answer != "one" and found.candidates[0].share < 0.8
    # with the size as it is, and with no size at all, it is named, and never as certain
    for given_m in (size_m, None):
        found = core_identification.identify_mix(TABLES, 8, freq_hz, z_ohm, given_m)
        assert found.answer == "one" and found.candidates[0].fit.mix == mix
        assert 0.8 <= found.candidates[0].share < 0.985


def test_a_cracked_core_is_not_told_as_turns_by_the_recipe():
    """Seen: "5.8 turns" by the recipe beside "a cracked core, 100 %" by the others of the design."""
    from measurements.rf.diagnosis import recipe_contradiction

    bench = Bench(seed=4)
    mu_e = 1 / (1 / mu("31", GRID_HZ) + 0.3 / 144.5)
    l0_h = 2e-7 * TOROID_MM[2] * 1e-3 * np.log(TOROID_MM[0] / TOROID_MM[1]) * 144
    own = bench.measured_ohm(
        1 / (1 / (2j * np.pi * GRID_HZ * l0_h * mu_e) + 2j * np.pi * GRID_HZ * bench.stray_f)
    )
    assert [cause.code for cause in told(bench, own).causes] == ["cracked_core"]
    made = recipe_contradiction.build_ring_recipe("31", 12, ferrite_cores.toroid_factor_m(*TOROID_MM))
    alone = recipe_contradiction.hold_against_recipe(made, GRID_HZ, own, TABLES)
    assert alone is not None and "turn_count" not in {cause.code for cause in alone.causes}
