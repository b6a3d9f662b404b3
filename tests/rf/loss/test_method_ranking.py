"""Advice on methods follows from the analyser's description; counted on simulated analysers and devices."""

from __future__ import annotations

from dataclasses import replace
from fractions import Fraction

import numpy as np
import pytest

from measurements.rf.analyser import UNDESCRIBED, Analyser
from measurements.rf.analysis import analyse
from measurements.rf.loss.method_ranking import USEFUL_DB, rank_methods
from tests.rf.certainty.simulated_analysers import CLASSES
from tests.rf.certainty.simulated_analysers import Analyser as Bench
from tests.rf.certainty.simulated_tests import METHODS, Cell, describe, run_test
from tests.rf.test_decisions import BANDS

WAYS = {  # method and further sweep -> its name in the simulation
    ("direct", ""): "direct",
    ("direct", "jig_through"): "direct with the through",
    ("series_resistor", ""): "series_resistor",
    ("series_resistor", "jig_through"): "series_resistor with the through",
    ("one_port", ""): "one_port",
    ("back_to_back", "far_load"): "back_to_back with far_load",
    ("renormalised", ""): "renormalised",
    ("renormalised", "sweep_reversed"): "renormalised",
}


def get_names(analyser: Analyser, ratio: int, paths: int) -> set[str]:
    return {WAYS[each.method, each.also_sweep] for each in rank_methods(analyser, Fraction(ratio), paths)
            if each.is_useful}  # fmt: skip


@pytest.mark.parametrize("ratio", [1, 4, 9, 49])
@pytest.mark.parametrize("kind", CLASSES)
def test_what_is_recommended_is_known_to_a_quarter_of_a_decibel(kind, ratio):
    """80 draws of 4 bands each: devices from good to poor, at least nine in ten within the 0.25 dB."""
    described = describe(Cell("one_port", ratio, kind, 1.0, 0.05, True))
    rng = np.random.default_rng([ratio, CLASSES[kind].paths])
    named = get_names(described, ratio, CLASSES[kind].paths)
    assert "one_port" in named
    for name in named:
        errors = []
        for _ in range(80):
            figures = run_test(rng, Cell(name, ratio, kind, 1.0, 0.05, True))
            errors += [abs(figures.found[band] - truth) for band, truth in figures.truth.items()]
        assert np.mean(np.array(errors) <= USEFUL_DB) >= 0.9, (name, np.quantile(errors, 0.95))


def test_the_description_changes_what_is_recommended():
    at_20 = replace(
        UNDESCRIBED, paths=1, port2_match_db=20.0, drift_db=0.05, noise=0.001, resistor_percent=1.0
    )
    at_40 = replace(at_20, port2_match_db=40.0)
    two = replace(at_20, paths=2, port2_match_db=40.0)
    rough = replace(at_20, reflection_residual=0.1)
    assert get_names(at_20, 4, 1) == {
        "one_port", "back_to_back with far_load", "series_resistor with the through"
    }  # fmt: skip
    assert "series_resistor" in get_names(at_40, 4, 1)
    assert {"renormalised", "series_resistor"} <= get_names(two, 4, 2)
    assert "renormalised" not in get_names(two, 49, 2)  # trade.md 3.3: it cannot decide 0.5 dB at 49:1
    assert get_names(rough, 4, 1) == set()


def advise(analyser: Analyser, kind: str, ratio: int = 4, method: str = "series_resistor") -> str:
    rng = np.random.default_rng(1)
    bench = Bench(rng, CLASSES[kind], 0.05, 0.001)
    request, _ = METHODS[method](rng, bench, Cell(method, ratio, kind, 1.0, 0.05, True))
    result = analyse(replace(request, bands=BANDS, calibrated=True, analyser=analyser)).result
    return " ".join(flag["message"] for flag in result["flags"] if flag["code"] == "uncertainty_large")


def test_the_flag_names_first_what_is_least_work_and_its_uncertainty():
    said = advise(UNDESCRIBED, "one-path 20 dB")
    assert said.index("series_resistor with a jig_through sweep (0.2") < said.index("one_port (0.0")
    # on 40 dB of port 2 there is nothing to advise
    fine = Analyser(paths=1, port2_match_db=40.0, drift_db=0.05, noise=0.001, resistor_percent=1.0)
    assert advise(fine, "one-path 20 dB") == ""


def test_where_no_method_can_be_believed_it_says_so():
    rough = Analyser(paths=1, reflection_residual=0.15, port2_match_db=15.0)
    said = advise(rough, "one-path 20 dB")
    assert "No method is known to 0.25 dB" in said and "check sweeps" in said


def test_the_result_lists_what_can_be_believed():
    rng = np.random.default_rng(1)
    cell = Cell("one_port", 9, "one-path 20 dB", 1.0, 0.05, True)
    request, _ = METHODS["one_port"](rng, Bench(rng, CLASSES[cell.analyser], 0.05, 0.001), cell)
    result = analyse(replace(request, bands=BANDS, calibrated=True, analyser=describe(cell))).result
    rows = result["summary"]["believable_methods"]
    assert rows[0]["method"] in ("one_port", "back_to_back")
    assert [row["uncertainty_db"] for row in rows] == sorted(row["uncertainty_db"] for row in rows)
    assert {"method", "also_sweep", "uncertainty_db"} == set(rows[0])


@pytest.mark.parametrize("ratio", [Fraction(1, 4), Fraction(9, 4), Fraction(3, 2), Fraction(100)])
@pytest.mark.parametrize("paths", [1, 2])
def test_any_ratio_has_a_ranking(ratio, paths):
    ranked = rank_methods(UNDESCRIBED, ratio, paths)
    assert ranked and all(0 < each.uncertainty_db < 1000 for each in ranked)
