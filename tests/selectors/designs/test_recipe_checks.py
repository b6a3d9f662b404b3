"""A recipe held against the catalogue's sizes and against its sweep, with the reference data as shipped."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.evidence_grid import GRID_HZ, EvidenceCurve
from measurements.selectors.designs import recipe_checks
from measurements.selectors.tests import comparison, tests
from measurements.services.designs import designs
from measurements.services.evidence import recipe_doubts
from tests import factories
from tests.rf.mix_tables import winding_ohm


def swept(mix: str, turns: float, **changes) -> EvidenceCurve:
    """A winding on the maker's published material, 1 to 30 MHz, on the grid of evidence."""
    z_ohm = np.where(GRID_HZ <= 30e6, winding_ohm(mix, turns, GRID_HZ, stray_f=2.5e-12, **changes), np.nan)
    return EvidenceCurve(z_ohm.astype(np.complex64))


def codes(found) -> list[str]:
    return [note["code"] for note in found]


@pytest.mark.usefixtures("reference_data")
class TestNotes:
    def test_turns_that_no_bore_takes(self):
        recipe = _normal(factories.recipe(turns=60, conductor="RG-400"))
        assert codes(recipe_checks.list_recipe_notes(recipe)) == ["turns_do_not_fit"]
        assert recipe_checks.list_recipe_notes(_normal(factories.recipe(turns=60))) == ()  # wire unknown
        assert recipe_checks.list_recipe_notes(_normal(factories.recipe(conductor="RG-400"))) == ()


@pytest.mark.usefixtures("reference_data")
class TestDoubts:
    @pytest.mark.parametrize("scale", [0.8, 1.0, 1.2])
    def test_a_recipe_that_its_sweep_confirms_is_silent(self, scale):
        found = recipe_doubts.check_recipe(_normal(factories.recipe()), swept("31", 12, scale=scale))
        assert found is None or not found["contradicts"]

    @pytest.mark.parametrize("turns", [6, 7, 8, 17])
    def test_other_turns_contradict_and_are_told_with_their_count(self, turns):
        found = recipe_doubts.check_recipe(_normal(factories.recipe()), swept("31", turns))
        assert found["contradicts"] and found["likelihoods"][0]["code"] == "turn_count"
        (cause,) = found["causes"]
        assert cause["code"] == "turn_count" and cause["behaves_as"] == pytest.approx(turns, abs=0.6)
        assert found["low_ratio"] == pytest.approx((turns / 12) ** 2, rel=0.05)
        assert all(each["share"] < 0.985 for each in found["likelihoods"])

    def test_another_mix_contradicts_and_is_told(self):
        found = recipe_doubts.check_recipe(_normal(factories.recipe()), swept("61", 12))
        assert found["contradicts"] and [cause["mix"] for cause in found["causes"]] == ["61"]

    @pytest.mark.parametrize(
        "changes",
        [
            {"purpose": "balun", "principle": "voltage"},
            {"purpose": "balun", "ratio": "4:1"},
            {"mix": "unknown"},
            {"shape": "other"},
        ],
    )
    def test_nothing_is_said_where_the_winding_or_the_core_is_another_thing(self, changes):
        assert recipe_doubts.check_recipe(_normal(factories.recipe(**changes)), swept("31", 7)) is None

    def test_without_a_curve_there_is_nothing_to_hold_against_it(self):
        assert recipe_doubts.check_recipe(_normal(factories.recipe()), None) is None


@pytest.mark.usefixtures("reference_data")
def test_the_comparison_of_a_test_carries_them_where_nobody_else_built_it(member):
    key = factories.record(member, factories.device(member), recipe_confirmed="")
    row = comparison.compare_test(member, key)
    # the invented sweep is 63 uH by construction (10 MHz with 4 pF); 12 turns of mix 31 are 250
    assert row.basis == "recipe" and row.checks == () and row.likelihoods != ()
    shown = tests.get_test(member, key)
    assert shown.waits_for_recipe and shown.evidence == "left_out" and shown.result["flags"] == []
    assert shown.recipe_doubt["low_ratio"] == pytest.approx(0.25, abs=0.06)


def _normal(recipe):
    return designs.preview_design(recipe).as_json
