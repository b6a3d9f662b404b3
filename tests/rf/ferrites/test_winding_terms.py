"""The model's windings against the maker's worked example and published rows, and their slopes by
difference.
"""

from __future__ import annotations

import math

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.ferrites import ferrite_cores, winding_model, winding_terms
from measurements.rf.ferrites.design_evidence import rejection_of_impedance_db
from tests.rf.invented_windings import TABLES
from tests.rf.mix_tables import winding_ohm

RING = (61.0, 35.55, 12.7)


def coil(turns=12, cores=1, **lies):
    return winding_model.build_stacked_winding(RING, cores, mix="31", style="coax", turns=turns, **lies)


# C. Parker (Fair-Rite), "Specifying a Ferrite for EMI Suppression", Conformity, June 2008, pp. 50-59: mix 73,
# beads OD/ID/height mm; frequency, mu', mu'' -> printed |Z|.
@pytest.mark.parametrize(
    ("size", "freq", "mu1", "mu2", "z", "tolerance"),
    [
        ((10, 0.8, 5), 100e3, 2500, 43.8, 3.97, 0.01),
        ((10, 0.8, 5), 900e3, 2100, 1014, 33.3, 0.002),
        ((5, 0.8, 10), 100e3, 2500, 43.8, 5.76, 0.011),
        ((5, 0.8, 10), 900e3, 2100, 1014, 48.1, 0.008),  # this row is printed 0.6 % low
    ],
)
def test_worked_example_of_the_maker(size, freq, mu1, mu2, z, tolerance):
    bead = winding_model.build_stacked_winding(size, 1, mix="73", style="beads_on_coax", turns=1)
    log_mu = np.log(np.array([mu1 - 1j * mu2]))
    z_ohm = winding_terms.compute_winding_terms(np.array([freq]), log_mu, math.log(1e-18), bead).z_ohm
    assert abs(z_ohm[0]) == pytest.approx(z, rel=tolerance)


# Rows of the maker's tables, 12 turns on 61/35.55/12.7 without capacitance (computed apart from this code);
# 20 log10 |1 + Z/100| of the third is the 34.01 dB quoted with it.
@pytest.mark.parametrize(
    ("mhz", "expected"),
    [(1.0, 574.8 + 1738.0j), (3.56, 2905.2 + 2606.3j), (7.2, 3969.7 + 2939.3j), (14.6, 5416.8 + 3732j)],
)
def test_published_rows(mhz, expected):
    freq = np.array([mhz * 1e6])
    log_mu = winding_terms.table_log_mu(TABLES["31"], freq)
    z_ohm = winding_terms.compute_winding_terms(freq, log_mu, math.log(1e-18), coil()).z_ohm
    assert z_ohm[0] == pytest.approx(expected, rel=1e-4)
    if mhz == 7.2:
        assert rejection_of_impedance_db(z_ohm)[0] == pytest.approx(34.01, abs=0.01)


def test_stacks_add_their_factor_and_separate_cores_of_two_lines_lie_in_parallel():
    freq = np.array([3.56e6])
    log_mu = winding_terms.table_log_mu(TABLES["31"], freq)
    single, double, parallel = (
        winding_terms.compute_winding_terms(freq, log_mu, math.log(1e-18), each).z_ohm[0]
        for each in (coil(), coil(cores=2), coil(lines=2))
    )
    assert double == pytest.approx(2 * single) and parallel == pytest.approx(single / 2)


@pytest.mark.parametrize("mix", list(TABLES))
def test_slopes_are_those_of_differences(mix):
    freq = np.geomspace(1e6, 50e6, 9)
    winding = winding_model.build_stacked_winding(RING, 1, mix=mix, style="coax", turns=12, wire_mm=5.0)
    log_mu, log_c, step = winding_terms.table_log_mu(TABLES[mix], freq), math.log(4e-12), 1e-6
    here = winding_terms.compute_winding_terms(freq, log_mu, log_c, winding)
    # against the textbook winding of `mix_tables` itself
    assert here.z_ohm == pytest.approx(winding_ohm(mix, 12, freq, stray_f=4e-12), rel=1e-6)
    for moved, slope in (
        (winding_terms.compute_winding_terms(freq, log_mu + step, log_c, winding), here.by_mu),
        (winding_terms.compute_winding_terms(freq, log_mu, log_c + step, winding), here.by_stray),
    ):
        assert np.log(moved.z_ohm / here.z_ohm) / step == pytest.approx(slope, rel=1e-3, abs=1e-5)


def test_capacitance_grows_with_turns_wire_and_length():
    mean, _ = winding_terms.build_law_prior()

    def capacitance(**lies):
        return math.exp(winding_terms.build_law_row(coil(**lies)) @ mean)

    usual = capacitance(turns=10, wire_mm=3.0)
    assert usual == pytest.approx(3e-12, rel=0.05)
    assert usual < capacitance(turns=15, wire_mm=3.0) < capacitance(turns=15, wire_mm=5.0)
    assert capacitance(turns=10, wire_mm=3.0, cores=2) > usual
    assert capacitance(turns=10, wire_mm=3.0, split=True) < usual
    assert capacitance(turns=10) == pytest.approx(usual)  # a wire nobody measured counts as usual
    beads = winding_model.build_stacked_winding(
        (16.25, 7.29, 14.3), 30, mix="43", style="beads_on_coax", turns=1
    )
    assert math.exp(winding_terms.build_law_row(beads) @ mean) < 0.5e-12


def test_hats_share_out_every_frequency():
    freq = np.geomspace(0.05e6, 100e6, 200)
    shares = winding_terms.compute_knot_shares(freq)
    assert shares.sum(axis=1) == pytest.approx(np.ones(200)) and (shares >= 0).all()
    assert winding_terms.compute_knot_shares(winding_terms.KNOTS_HZ) == pytest.approx(np.eye(8), abs=1e-9)


def test_nothing_is_made_up_outside_a_table():
    freq = np.array([0.05e6, 0.5e6, 200e6])
    found = winding_terms.table_log_mu(TABLES["61"], freq)  # mix 61 starts at 1 MHz
    assert np.isnan(found).all()


CURRENT = {
    "principle": "current",
    "ratio": "1:1",
    "cores": [{"part": "X", "shape": "toroid", "mix": "31", "stacked": 2}],
    "winding": {"turns": 9, "style": "coax", "split": False, "conductor": "wire"},
}


BEAD = {"shape": "bead", "outer_mm": 10, "inner_mm": 5, "height_mm": 5, "mix": "73", "stacked": 50}


def made(**changes):
    return winding_model.build_recipe_winding(CURRENT | changes, {"X": RING}, {"wire": 5.0})


def test_a_recipe_becomes_a_winding():
    assert made() == winding_model.build_stacked_winding(
        RING, 2, mix="31", style="coax", turns=9, wire_mm=5.0
    )
    two = [{"part": "X", "shape": "toroid", "mix": "31", "stacked": 1}] * 2
    assert made(cores=two).factor_m == pytest.approx(made().factor_m)  # one line through both
    guanella = made(cores=two, ratio="4:1")
    assert guanella.lines == 2 and guanella.factor_m == pytest.approx(ferrite_cores.toroid_factor_m(*RING))
    assert made(cores=[BEAD]).factor_m == pytest.approx(50 * ferrite_cores.toroid_factor_m(10, 5, 5))


@pytest.mark.parametrize(
    "changes",
    [
        {"principle": "voltage"},
        {"ratio": "49:2"},
        {"ratio": "3:1"},
        {"cores": [{"shape": "binocular", "mix": "43", "stacked": 1}]},
        {"cores": [{"part": "unknown", "shape": "toroid", "mix": "31", "stacked": 1}]},
        {"cores": [BEAD | {"inner_mm": 12}]},
        {"cores": [{"part": "X", "mix": mix, "stacked": 1} for mix in ("31", "43")]},
    ],
)
def test_where_the_model_does_not_reach_it_says_nothing(changes):
    assert made(**changes) is None


def test_lines_of_a_ratio():
    assert [winding_model.count_parallel_lines(each) for each in ("1:1", "4:1", "9:1", "49:1")] == [
        1,
        2,
        3,
        7,
    ]
    with pytest.raises(BenchnightError):
        coil(turns=0)
