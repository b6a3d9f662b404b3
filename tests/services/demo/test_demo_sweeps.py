"""The physics behind the demo's sweeps, against scikit-rf's circuits and closed forms."""

from __future__ import annotations

from dataclasses import replace
from datetime import date

import numpy as np
import pytest
import skrf

from measurements.rf.networks.two_port import abcd_to_s
from measurements.services.demo import benches, scenarios, simulated_sweeps, transformers, windings
from measurements.services.demo.scenarios import PlannedDevice, PlannedTest
from measurements.services.demo.simulated_sweeps import DeviceOnBench
from measurements.services.demo.windings import BuildVariation

SCENARIO = scenarios.read_scenario()
BENCH = SCENARIO.benches["loft"]
AS_DRAWN = BuildVariation(permeability=1.0, stray=1.0, line=1.0, leakage=1.0)
FREQUENCY = skrf.Frequency.from_f(BENCH.freq_hz, unit="Hz")
MEDIUM = skrf.media.DefinedGammaZ0(FREQUENCY, z0=50.0)


def recipe(name: str) -> dict:
    """A recipe as the register files it: every core with how many are stacked and its mix."""
    given = SCENARIO.designs[name]
    mixes = windings._read_rows_by_name("cores.json", "part")
    cores = [
        {"mix": mixes[core["part"]]["mix"] if "part" in core else core["mix"], **core}
        for core in given["cores"]
    ]
    return {**given, "cores": cores}


def lumped(z_ohm: np.ndarray) -> skrf.Network:
    """scikit-rf's network of an impedance in series between two 50-ohm ports."""
    a = np.zeros((len(z_ohm), 2, 2), complex)
    a[:, 0, 0] = a[:, 1, 1] = 1
    a[:, 0, 1] = z_ohm
    return skrf.Network(frequency=FREQUENCY, s=skrf.network.a2s(a, 50.0), z0=50.0)


def test_a_winding_is_the_makers_permeability_times_its_core():
    """12 turns on 61/35.55/12.7 mm of mix 31: Z = j w mu0 N^2 h ln(OD/ID)/(2 pi) (mu' - j mu''), 2 MHz.

    Source: C. Parker, Conformity, June 2008 (formula); maker's table, mu' 980.76, mu'' 734.77 at 2 MHz.
    """
    hz = np.array([2e6])
    factor_m = 12.7e-3 * np.log(61.0 / 35.55) / (2 * np.pi)
    alone = 1j * 2 * np.pi * hz * 4e-7 * np.pi * 144 * factor_m * (980.76 - 734.77j)
    stray_s = 1j * 2 * np.pi * hz * windings.stray_f(recipe("ring31-12")["winding"])
    found = windings.choke_z_ohm(recipe("ring31-12"), AS_DRAWN, hz)
    np.testing.assert_allclose(found, 1 / (1 / alone + stray_s), rtol=1e-9)


def test_stray_capacitance_grows_with_turns_and_wire_and_shrinks_with_a_split():
    stray = {name: windings.stray_f(recipe(name)["winding"]) for name in SCENARIO.designs}
    more_turns = {**recipe("ring31-12")["winding"], "turns": 17}
    thinner = {**recipe("ring31-12")["winding"], "conductor": "RG-316"}
    split = {**recipe("ring31-12")["winding"], "split": True}
    assert windings.stray_f(more_turns) > stray["ring31-12"]
    assert windings.stray_f(thinner) < stray["ring31-12"]
    assert windings.stray_f(split) == pytest.approx(0.75 * stray["ring31-12"])
    assert all(0.2e-12 < farad < 8e-12 for farad in stray.values())


def test_two_separate_cores_halve_the_choke():
    pair = recipe("current4-43")
    one = {**pair, "cores": pair["cores"][:1]}
    both = windings.choke_z_ohm(pair, AS_DRAWN, BENCH.freq_hz)
    np.testing.assert_allclose(2 * both, windings.choke_z_ohm(one, AS_DRAWN, BENCH.freq_hz))


def test_a_common_mode_sweep_is_the_circuit_of_its_bench():
    """Shunt, leads in series with the leaking device, shunt: the same circuit out of scikit-rf's parts."""
    z_ohm = windings.choke_z_ohm(recipe("ring31-12"), AS_DRAWN, BENCH.freq_hz)
    omega = 2 * np.pi * BENCH.freq_hz
    leak_s = 1j * omega * BENCH.leak_pf * 1e-12
    link_ohm = benches.CLIP_OHM + 1j * omega * BENCH.link_nh * 1e-9
    clip = MEDIUM.shunt_capacitor(BENCH.shunt_pf * 1e-12)
    circuit = clip ** lumped(link_ohm + 1 / (1 / z_ohm + leak_s)) ** clip
    np.testing.assert_allclose(benches.compute_common_mode_s(BENCH, z_ohm), circuit.s, atol=1e-9)


def test_a_line_on_a_core_is_scikit_rfs_line():
    made = recipe("small43-14")
    abcd = transformers.compute_two_port(made, AS_DRAWN, BENCH.freq_hz)
    length_m = transformers._length_m(made)
    z_line = transformers.PAIR_OHM["bifilar"]
    mm = windings.get_wire_mm(made["winding"])
    neper = transformers.LOSS_DB_PER_M / np.sqrt(mm) * np.sqrt(BENCH.freq_hz / 1e6) / 8.685889638
    speed = transformers.VELOCITY * 299_792_458.0
    line = skrf.media.DefinedGammaZ0(
        FREQUENCY, z0_port=50.0, z0=z_line, gamma=neper + 2j * np.pi * BENCH.freq_hz / speed
    ).line(length_m, "m")
    np.testing.assert_allclose(abcd_to_s(abcd, (50.0, 50.0)), line.s, atol=1e-8)


@pytest.mark.parametrize(
    ("name", "ratio", "floor_db"),
    [("current4-43", 4, 1.938), ("voltage4-61", 4, 1.938), ("unun9-43", 9, 4.437)],
)
def test_a_transformer_reads_the_ideal_floor_of_its_ratio_straight_through(name, ratio, floor_db):
    """Between equal ports an ideal r:1 reads -10 log10(4r/(1+r)^2) (trade figures 1.938 and 4.437 dB)."""
    hz = np.array([10e6])
    abcd = transformers.compute_two_port(recipe(name), AS_DRAWN, hz)
    s = abcd_to_s(abcd, (50.0, 50.0))
    assert -20 * np.log10(abs(s[0, 1, 0])) == pytest.approx(floor_db, abs=0.35)
    into = abcd_to_s(abcd, (50.0, 50.0 * ratio))
    assert -20 * np.log10(abs(into[0, 1, 0])) < 0.3
    z_ohm = transformers.input_z_ohm(abcd, 1 / (50.0 * ratio))
    assert abs((z_ohm[0] - 50) / (z_ohm[0] + 50)) < 0.1


@pytest.mark.parametrize("name", sorted(SCENARIO.designs))
def test_every_device_is_passive_and_reciprocal(name):
    s = abcd_to_s(transformers.compute_two_port(recipe(name), AS_DRAWN, BENCH.freq_hz), (50.0, 50.0))
    largest = np.linalg.svd(s, compute_uv=False).max()
    assert largest <= 1 + 1e-9
    np.testing.assert_allclose(s[:, 0, 1], s[:, 1, 0], atol=1e-9)


def test_a_lossless_balun_hands_out_what_it_takes_in(monkeypatch):
    """Power over all three ports is kept when neither line nor choke has loss; a good choke balances."""
    monkeypatch.setattr(transformers, "LOSS_DB_PER_M", 0.0)
    choke = 1j * 2 * np.pi * BENCH.freq_hz * 100e-6
    monkeypatch.setattr(transformers, "choke_z_ohm", lambda *_: choke)
    s11, s21, s31 = transformers.compute_balanced_ports(recipe("small43-14"), AS_DRAWN, BENCH.freq_hz)
    np.testing.assert_allclose(abs(s11) ** 2 + abs(s21) ** 2 + abs(s31) ** 2, 1.0, atol=1e-9)
    np.testing.assert_allclose(s21 / s31, -(1 + 50 / choke), rtol=1e-9)


@pytest.mark.parametrize(("unit", "style"), [("Hz", "RI"), ("MHz", "MA"), ("kHz", "DB")])
def test_scikit_rf_reads_the_same_numbers_from_every_style(tmp_path, unit, style):
    z_ohm = windings.choke_z_ohm(recipe("ring43-11"), AS_DRAWN, BENCH.freq_hz)
    s = benches.compute_common_mode_s(BENCH, z_ohm)
    path = tmp_path / "choke.s2p"
    path.write_bytes(
        benches.format_touchstone(BENCH.freq_hz, s, unit=unit, style=style, comments=("invented",))
    )
    network = skrf.Network(str(path))
    np.testing.assert_allclose(network.f, BENCH.freq_hz, atol=60)
    np.testing.assert_allclose(network.s, s, atol=1e-5)


def made_test(kind: str = "common_mode", day: date = date(2025, 5, 3), **changes) -> DeviceOnBench:
    device = PlannedDevice("Tansy", "T-1", "ring31-12")
    test = PlannedTest(kind, day, **changes)
    return DeviceOnBench(device, test, BENCH, recipe("ring31-12"))


def test_the_same_test_has_the_same_bytes_and_another_day_has_other_noise():
    first, again = (simulated_sweeps.build_uploads(made_test())["sweep"].data for _ in range(2))
    assert first == again
    assert first != simulated_sweeps.build_uploads(made_test(day=date(2025, 5, 4)))["sweep"].data


def test_an_analyser_that_drives_one_port_writes_zeros_for_the_other(tmp_path):
    one = benches.simulate_reading(BENCH, np.full((BENCH.points, 2, 2), 0.5 + 0j), "sweep")
    both = benches.simulate_reading(
        replace(BENCH, both_ways=True), np.full((BENCH.points, 2, 2), 0.5 + 0j), "sweep"
    )
    assert not one[:, :, 1].any() and one[:, :, 0].all()
    assert both.all()


def test_noise_is_as_large_as_its_bench_says():
    seen = benches.simulate_reading(
        replace(BENCH, both_ways=True), np.zeros((BENCH.points, 2, 2), complex), "x"
    )
    assert seen.real.std() == pytest.approx(BENCH.noise, rel=0.1)
    assert seen.imag.std() == pytest.approx(BENCH.noise, rel=0.1)


def test_builders_stay_within_the_makers_tolerance_and_differ():
    made = [windings.draw_build_variation("somebody", f"tag {number}") for number in range(300)]
    cores = np.array([build.permeability for build in made])
    assert cores.min() >= 0.8 and cores.max() <= 1.2
    assert 0.05 < cores.std() < 0.12
    assert windings.draw_build_variation("somebody", "tag 1") == made[1]


def test_typed_readings_have_no_file_and_half_decibels():
    made = made_test(readings_mhz=(7.1, 14.2))
    assert simulated_sweeps.build_uploads(made) == {}
    readings = simulated_sweeps.build_settings(made).readings
    assert [reading["frequency_hz"] for reading in readings] == pytest.approx([7.1e6, 14.2e6])
    assert all(reading["value"] * 2 % 1 == 0 and 20 < reading["value"] < 40 for reading in readings)


def test_a_pair_needs_a_partner_and_balance_a_one_port_analyser():
    with pytest.raises(ValueError, match="partner"):
        simulated_sweeps.build_uploads(made_test("insertion_loss", method="back_to_back"))
    both = replace(made_test("balance"), bench=replace(BENCH, both_ways=True))
    with pytest.raises(ValueError, match="drives one port"):
        simulated_sweeps.build_uploads(both)
