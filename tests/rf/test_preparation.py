"""Turned sweeps are merged and other references converted before anything is computed."""

from __future__ import annotations

import numpy as np
import pytest
import skrf

from measurements.errors import BenchnightError
from measurements.rf.analysis import Request, analyse
from measurements.rf.preparation import convert_to_nominal, prepare_request
from measurements.rf.sweeps.sweep import Sweep
from tests.rf import benches
from tests.rf.benches import band, codes

FREQ = benches.linear_hz(101)


def lopsided():
    """A choke with unlike stray capacitances to ground at its ends."""
    m = benches.medium(FREQ)
    inner = skrf.Network(frequency=m.frequency, s=benches.choke(FREQ), z0=50)
    return m.shunt_capacitor(20e-12) ** inner ** m.shunt_capacitor(4e-12)


def test_a_turned_sweep_completes_the_two_port():
    network = lopsided()
    sweeps = {
        "sweep": benches.one_way(FREQ, network.s),
        "sweep_reversed": benches.one_way(FREQ, network.flipped().s),
    }
    result = analyse(Request("common_mode", sweeps=sweeps, bands=benches.BANDS, calibrated=True)).result
    whole = Request("common_mode", sweeps={"sweep": benches.two_port(FREQ, network.s)}, bands=benches.BANDS)
    assert result["method"] == "y21" and all(result["measured"].values())
    expected = band(analyse(whole).result, "20m")["impedance_ohm"]["worst"]
    assert band(result, "20m")["impedance_ohm"]["worst"] == pytest.approx(expected, rel=1e-9)
    assert [found["role"] for found in result["inputs"]] == ["sweep", "sweep_reversed"]
    assert "unmeasured_columns" not in codes(result)


def test_a_turned_sweep_alone_is_refused():
    with pytest.raises(BenchnightError) as caught:
        prepare_request(
            Request("common_mode", sweeps={"sweep_reversed": benches.one_way(FREQ, lopsided().s)})
        )
    assert (caught.value.code, caught.value.field) == ("sweep.missing", "sweep")


def test_conversion_agrees_with_scikit_rf():
    network = lopsided()
    network.renormalize([75, 25])
    sweep = Sweep(FREQ, network.s, np.array([75.0, 25.0]), np.ones((2, 2), bool))
    got, flags = convert_to_nominal(sweep, "sweep")
    assert got.s == pytest.approx(lopsided().s, abs=1e-6)
    assert got.z0_ohm.tolist() == [50, 50]
    assert [one.code for one in flags] == ["reference_converted"] and "25 and 75 ohm" in flags[0].message


def test_reflection_alone_converts_as_a_one_port():
    z = 30 + 40j
    s = np.zeros((101, 2, 2), complex)
    s[:, 0, 0] = (z - 75) / (z + 75)
    got, _ = convert_to_nominal(benches.two_port(FREQ, s, [[1, 0], [0, 0]], z0_ohm=75), "sweep")
    assert got.s[:, 0, 0] == pytest.approx(np.full(101, (z - 50) / (z + 50)))


@pytest.mark.parametrize("magnitude_only", [True, False])
def test_what_cannot_be_converted_stays_and_is_flagged(magnitude_only):
    mask = np.array([[True, False], [True, False]])
    sweep = Sweep(FREQ, np.full((101, 2, 2), 0.5), np.full(2, 75.0), mask, magnitude_only=magnitude_only)
    got, flags = convert_to_nominal(sweep, "sweep")
    assert got is sweep and [one.code for one in flags] == ["reference_not_50"]


def test_a_50_ohm_sweep_is_passed_on_untouched():
    sweep = benches.two_port(FREQ, lopsided().s)
    assert convert_to_nominal(sweep, "sweep") == (sweep, ())


def test_three_hundred_decibels_down_is_nothing():
    s = np.array(lopsided().s)
    s[3, 1, 0] = 1e-300
    ready, _ = prepare_request(Request("common_mode", sweeps={"sweep": benches.two_port(FREQ, s)}))
    got = ready.sweep().s
    assert got[3, 1, 0] == 0 and (np.delete(got, 3, axis=0) == np.delete(s, 3, axis=0)).all()
