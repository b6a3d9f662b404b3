"""`balance` against published formulas, a computed table, and a scikit-rf simulation of a three-port."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest
import skrf

from measurements.errors import BenchnightError
from measurements.rf.bands import Band
from measurements.rf.kinds import balance
from measurements.rf.networks import three_port
from measurements.rf.request import Limits
from measurements.rf.sweeps.sweep import Sweep
from tests.rf.method_requests import STEADY, codes, flat, request
from tests.rf.transformer_simulation import BANDS, FREQ_HZ, FREQUENCY, MEDIUM, NOISE, swept

BAND = (Band("40m", 7e6, 7.3e6),)


def halves(s21, s31):
    """An .s3p that is matched at port 1 and isolates nothing else."""
    return flat([0, s21, s31], [s21, 0, 0], [s31, 0, 0])


@pytest.mark.parametrize(
    ("a_db", "phi_deg", "sds_db", "scs_db", "cmrr_db"),
    [  # computed independently: |S21| = 1/sqrt 2, S31 = -S21 10^(-a/20) e^(j phi)
        (0.1, 0, -0.04986, -44.8468, 44.7970),
        (0.5, 0, -0.24640, -31.0663, 30.8199),
        (1, 0, -0.48562, -25.2921, 24.8065),
        (0, 1, -0.00033, -41.1832, 41.1828),
        (0, 5, -0.00827, -27.2064, 27.1981),
        (0, 10, -0.03312, -21.1941, 21.1610),
        (0.5, 5, -0.25467, -25.8863, 25.6316),
        (1, 10, -0.51862, -20.1204, 19.6017),
    ],
)
def test_the_table_of_imbalances(a_db, phi_deg, sds_db, scs_db, cmrr_db):
    s21 = np.exp(0.7j) / np.sqrt(2)
    s31 = -s21 * 10 ** (-a_db / 20) * np.exp(1j * np.radians(phi_deg))
    result = balance.compute(request("balance", None, 1, sweep=halves(s21, s31), bands=BAND))
    band = result.band_metrics[0]
    assert band["amplitude_imbalance_db"]["worst"] == pytest.approx(a_db, abs=1e-9)
    assert band["phase_imbalance_deg"]["worst"] == pytest.approx(-phi_deg, abs=1e-9)
    assert band["cmrr_db"]["worst"] == pytest.approx(cmrr_db, abs=6e-5)
    two_port = balance.convert_to_differential(halves(s21, s31).s)
    assert 20 * np.log10(abs(two_port[0, 1, 0])) == pytest.approx(sds_db, abs=6e-6)
    assert cmrr_db == pytest.approx(sds_db - scs_db, abs=2e-4)  # as printed, two rounded figures
    if a_db < 1 and phi_deg < 10:  # 1 dB and 10 degrees are the limits themselves, hit or missed by rounding
        assert band["meets"] is True


def test_published_mixed_mode_numbers():
    # MathWorks s2smm, https://ww2.mathworks.cn/help/rf/ref/s2smm.html, pair 1-3
    s11, s13, s31, s33 = 0.0857 - 0.1168j, 0.0966 - 0.0706j, 0.0957 - 0.0700j, 0.0818 - 0.1104j
    sweep = flat([0, 0, 0], [0, s11, s13], [0, s31, s33])
    assert balance.convert_to_differential(sweep.s)[0, 1, 1] == pytest.approx(-0.0124 - 0.0433j, abs=1e-4)


def test_mixed_mode_agrees_with_scikit_rf():
    rng = np.random.default_rng(1)
    s = rng.standard_normal((401, 3, 3)) + 1j * rng.standard_normal((401, 3, 3))
    network = skrf.Network(frequency=FREQUENCY, s=s[:, [1, 2, 0]][:, :, [1, 2, 0]], z0=50)
    network.se2gmm(p=1)  # ports then: differential, common, single-ended
    assert np.allclose(np.real(network.z0[0]), [100, 25, 50])
    assert np.allclose(balance.convert_to_differential(s), network.s[:, [2, 0]][:, :, [2, 0]])


def balun(ratio: float, even: bool = False) -> skrf.Network:
    """Port 1 unbalanced, 2 and 3 balanced: leakage, magnetising, floating transformer, unlike strays."""
    turns = np.sqrt(ratio)
    # v2 - v3 = n v1, i1 + n i2 = 0, i2 + i3 = 0 with v = a + b, i = (a - b)/50 in units of the waves
    volts = np.array([[turns, -1, 1], [0, 0, 0], [0, 0, 0]], complex)
    amps = np.array([[0, 0, 0], [1, turns, 0], [0, 1, 1]], complex)
    s = np.linalg.solve(amps - volts, amps + volts)
    ideal = skrf.Network(frequency=FREQUENCY, s=np.tile(s, (len(FREQ_HZ), 1, 1)), z0=50)
    near = MEDIUM.inductor(60e-9) ** MEDIUM.shunt_inductor(12e-6) ** MEDIUM.resistor(0.3)
    whole = skrf.network.connect(near, 1, ideal, 0)
    for port, (leak_h, stray_f) in ((1, (80e-9, 8e-12)), (2, (80e-9, 8e-12) if even else (160e-9, 25e-12))):
        arm = MEDIUM.inductor(leak_h) ** MEDIUM.shunt_capacitor(stray_f)
        whole = skrf.network.connect(whole, port, arm, 0)  # a two-port leaves the order of the ports as it is
    return whole


def two_by_two(network: skrf.Network, rng=None, noise=NOISE) -> dict[str, Sweep]:
    """The three two-port sweeps, each with the third terminal in 50 ohm."""
    sweeps = {}
    for role, (_, third) in {"sweep_12": (0, 2), "sweep_13": (0, 1), "sweep_23": (1, 0)}.items():
        sweeps[role] = swept(skrf.network.connect(network, third, MEDIUM.match(), 0), rng, noise=noise)
    return sweeps


@pytest.mark.parametrize("ratio", [1, 4])
def test_three_sweeps_are_the_three_port(ratio):
    # independent simulation: scikit-rf; asked for: within 0.02 dB and 0.2 degrees
    network = balun(ratio)
    direct = balance.compute(request("balance", None, ratio, sweep=swept(network), bands=BANDS))
    pieces = balance.compute(request("balance", None, ratio, **two_by_two(network), bands=BANDS))
    assert direct.method == "three_port"
    assert pieces.method == "three_sweeps"
    assert set(direct.traces) == set(pieces.traces)
    for name, tolerance in (
        ("amplitude_imbalance_db", 1e-6),
        ("phase_imbalance_deg", 1e-5),
        ("cmrr_db", 1e-4),
        ("loss_db", 1e-6),
    ):
        assert np.allclose(direct.traces[name], pieces.traces[name], atol=tolerance), name
    assert np.ptp(direct.traces["amplitude_imbalance_db"]) > 0.2  # it is no perfect balun
    assert codes(pieces.flags) == codes(direct.flags) == set()


def test_three_sweeps_with_noise_are_within_what_the_noise_allows():
    # Noise of 0.002 on S21 and S31 of about 0.7 is, by first order, 8.686 x 0.002/0.7 = 0.025 dB and 0.16
    # degrees rms in their ratio at a single point, in a direct .s3p as well: 0.02 dB holds for a band's mean.
    rng = np.random.default_rng(6)
    network = balun(1)
    truth = balance.compute(request("balance", None, 1, sweep=swept(network), bands=BANDS))
    pieces = balance.compute(request("balance", None, 1, **two_by_two(network, rng), bands=BANDS))
    amplitude = pieces.traces["amplitude_imbalance_db"] - truth.traces["amplitude_imbalance_db"]
    phase = pieces.traces["phase_imbalance_deg"] - truth.traces["phase_imbalance_deg"]
    size = np.abs(network.s[:, 1:, 0]).min()
    expected_db = 20 / np.log(10) * NOISE / size
    print(f"\nbalance, noise 0.002: rms {amplitude.std():.4f} dB, {phase.std():.3f} degrees")
    assert amplitude.std() < 1.1 * expected_db
    assert phase.std() < 1.1 * np.degrees(NOISE / size)
    for view in pieces.grid.views:
        if view.points_in_band >= 20:
            assert abs(amplitude[view.inside].mean()) < 0.02
            assert abs(phase[view.inside].mean()) < 0.2


@pytest.mark.parametrize("ratio", [1, 4])
def test_the_loss_is_that_into_the_nominal_differential_load(ratio):
    # scikit-rf: mixed mode, differential port renormalised, common mode left in 25 ohm
    network = balun(ratio)
    result = balance.compute(request("balance", None, ratio, sweep=swept(network)))
    order = network.subnetwork([1, 2, 0])
    order.se2gmm(p=1)
    order.renormalize([50 * ratio, 25, 50])
    assert np.allclose(result.traces["loss_db"], -20 * np.log10(np.abs(order.s[:, 0, 2])), atol=1e-5)
    assert f"{50 * ratio} ohm" in result.summary["loss_assumption"]


def test_an_even_balun_loses_what_its_floating_load_says():
    # scikit-rf: a resistor across the terminals instead of mixed mode; the same where no common mode arises
    even = balun(4, even=True)
    result = balance.compute(request("balance", None, 4, sweep=swept(even), bands=BANDS))
    y = even.y
    # load of 200 ohm between nodes 2 and 3, source of 50 ohm at node 1: nodal analysis
    nodal = np.array(y)
    nodal[:, 0, 0] += 1 / 50
    nodal[:, [1, 2], [1, 2]] += 1 / 200
    nodal[:, [1, 2], [2, 1]] -= 1 / 200
    volts = np.linalg.solve(nodal, np.tile(np.array([[1 / 50], [0], [0]]), (len(FREQ_HZ), 1, 1)))[:, :, 0]
    delivered = np.abs(volts[:, 1] - volts[:, 2]) ** 2 / 200
    loss_db = -10 * np.log10(delivered / (1 / (4 * 50)))
    found_db = result.traces["loss_db"][result.grid.measured]
    assert np.abs(found_db - loss_db).max() < 1e-4


def test_one_direction_gives_no_loss_and_says_why():
    one_way = {role: sweep.without(0, 1).without(1, 1) for role, sweep in two_by_two(balun(4)).items()}
    result = balance.compute(request("balance", None, 4, **one_way, bands=BANDS))
    assert set(result.band_metrics[2]["loss_db"].values()) == {None}
    assert result.band_metrics[2]["amplitude_imbalance_db"]["worst"] is not None
    assert "loss_db" not in result.traces
    (why,) = [flag for flag in result.flags if flag.code == "balance_no_loss"]
    assert "S33" in why.message
    assert "S22" not in why.message  # sweep_23 measured it
    assert result.summary["loss_assumption"] is None


def test_both_directions_of_two_sweeps_miss_only_the_third():
    sweeps = two_by_two(balun(4))
    del sweeps["sweep_23"]
    result = balance.compute(request("balance", None, 4, **sweeps, bands=BANDS))
    assert result.method == "two_sweeps"
    (why,) = [flag for flag in result.flags if flag.code == "balance_no_loss"]
    assert "S23 and S32" in why.message


def test_reverse_columns_may_be_taken_for_missing_ones_and_it_is_said():
    sweeps = two_by_two(balun(4))
    whole = balance.compute(request("balance", None, 4, **sweeps))
    fewer = {
        **sweeps,
        "sweep_23": sweeps["sweep_23"].without(0, 1),
        "sweep_12": sweeps["sweep_12"].without(0, 1),
    }
    result = balance.compute(request("balance", None, 4, **fewer))
    assert np.allclose(result.traces["loss_db"], whole.traces["loss_db"], atol=1e-9)
    (said,) = [flag for flag in result.flags if flag.code == "balance_reciprocal"]
    assert said.message.startswith("S12 and S23")


def test_a_third_terminal_that_was_left_open_is_noticed():
    network = balun(1)
    sweeps = two_by_two(network)
    sweeps["sweep_13"] = swept(skrf.network.connect(network, 1, MEDIUM.open(), 0))
    result = balance.compute(request("balance", None, 1, **sweeps))
    found = [flag.message for flag in result.flags if flag.code == "balance_sweeps_disagree"]
    assert any("S11" in message and "sweep_12 and sweep_13" in message for message in found)


def test_limits_decide_and_unknown_phase_leaves_it_open():
    s21 = 1 / np.sqrt(2)
    sweep = halves(s21, -s21 * 10 ** (-0.6 / 20))
    strict = request(
        "balance", None, 1, sweep=sweep, bands=BAND, limits=Limits(amplitude_db=0.5), analyser=STEADY
    )
    assert balance.compute(strict).band_metrics[0]["meets"] is False
    no_phase = Sweep(sweep.freq_hz, np.abs(sweep.s), sweep.z0_ohm, sweep.measured, magnitude_only=True)
    result = balance.compute(request("balance", None, 1, sweep=no_phase, bands=BAND))
    band = result.band_metrics[0]
    assert band["meets"] is None
    assert band["amplitude_imbalance_db"]["worst"] == pytest.approx(0.6)
    assert band["phase_imbalance_deg"]["worst"] is None
    assert set(band["loss_db"].values()) == {None}
    bad = replace(no_phase, s=np.abs(halves(0.7, 0.5).s))
    assert (
        balance.compute(request("balance", None, 1, sweep=bad, bands=BAND)).band_metrics[0]["meets"] is False
    )


def test_perfect_and_silent_halves_have_no_figure():
    perfect = balance.compute(request("balance", None, 1, sweep=halves(0.7, -0.7), bands=BAND))
    assert perfect.band_metrics[0]["cmrr_db"]["worst"] is None
    assert perfect.band_metrics[0]["meets"] is True
    assert "undefined_points" in codes(perfect.flags)
    silent = balance.compute(request("balance", None, 1, sweep=halves(0.7, 0), bands=BAND))
    assert silent.band_metrics[0]["amplitude_imbalance_db"]["worst"] is None
    assert silent.band_metrics[0]["meets"] is None
    none = balance.compute(request("balance", None, 1, sweep=halves(0, 0), bands=BAND))
    assert np.isnan(none.traces["loss_db"]).all()


def test_phase_is_wrapped():
    s21 = np.exp(1j * np.radians(170))
    for turn in (0, 360, -360):
        s31 = np.exp(1j * np.radians(170 - 175 + turn))
        assert balance.phase_imbalance_deg(np.array([s21]), np.array([s31]))[0] == pytest.approx(-5)


def test_what_is_missing_or_misshaped_is_named():
    sweeps = two_by_two(balun(1))
    for left_out in ("sweep_12", "sweep_13"):
        given = {role: sweep for role, sweep in sweeps.items() if role != left_out}
        with pytest.raises(BenchnightError) as refused:
            balance.compute(request("balance", None, 1, **given))
        assert (refused.value.code, refused.value.field) == ("balance.two_terminals", left_out)
    with pytest.raises(BenchnightError) as ports:
        balance.compute(request("balance", None, 1, sweep=sweeps["sweep_12"]))
    assert (ports.value.code, ports.value.field) == ("balance.ports", "sweep")
    one_port = flat([0.1], freq_hz=tuple(FREQ_HZ))
    with pytest.raises(BenchnightError) as ports:
        balance.compute(request("balance", None, 1, **{**sweeps, "sweep_23": one_port}))
    assert (ports.value.code, ports.value.field) == ("balance.ports", "sweep_23")
    with pytest.raises(BenchnightError) as column:
        balance.compute(
            request("balance", None, 1, **{**sweeps, "sweep_13": sweeps["sweep_13"].without(1, 0)})
        )
    assert (column.value.code, column.value.field) == ("sweep.not_measured", "sweep_13")
    shifted = replace(sweeps["sweep_13"], freq_hz=sweeps["sweep_13"].freq_hz + 1e3)
    with pytest.raises(BenchnightError) as grid:
        balance.compute(request("balance", None, 1, **{**sweeps, "sweep_13": shifted}))
    assert (grid.value.code, grid.value.field) == ("sweep.grid_differs", "sweep_13")
    uneven = Sweep(FREQ_HZ, balun(1).s, np.array([50.0, 50.0, 75.0]), np.ones((3, 3), bool))
    with pytest.raises(BenchnightError) as reference:
        balance.compute(request("balance", None, 1, sweep=uneven))
    assert reference.value.code == "sweep.reference_differs"


def test_averaging_of_entries_measured_twice():
    sweeps = {
        "sweep_12": flat([0.1, 0.5], [0.5, 0.2]),
        "sweep_13": flat([0.14, -0.5], [-0.5, 0.3]),
    }
    device = three_port.assemble_three_port(request("balance", None, 1, **sweeps))
    assert device.s[0, 0, 0] == pytest.approx(0.12)
    assert not device.measured[1, 2]
    assert device.measured.sum() == 7
