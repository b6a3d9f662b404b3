"""`series_resistor` against closed forms, published adapter values and a scikit-rf simulation."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.rf.analyser import Analyser
from measurements.rf.loss import series_resistor
from tests.rf.method_requests import codes, flat, loss_request
from tests.rf.transformer_simulation import MEDIUM, ONE_WAY, UNEVEN, device, good, poor, swept, true_loss_db


def through_resistor(design, ohm):
    return device(design) ** MEDIUM.resistor(ohm)


@pytest.mark.parametrize(
    ("ratio", "rs_ohm", "s21"),
    [  # computed independently: ideal device and series R in a 50-ohm system
        (4, 150.0, 0.5),
        (9, 400.0, 0.333333),
        (1.5, 25.0, 10 ** (-1.7609 / 20)),
        (2, 50.0, 10 ** (-3.0103 / 20)),
        (4, 150.0, 10 ** (-6.0206 / 20)),
        (9, 400.0, 10 ** (-9.5424 / 20)),
        (49, 2400.0, 10 ** (-16.9020 / 20)),
    ],
)
def test_an_ideal_device_loses_nothing(ratio, rs_ohm, s21):
    sweep = flat([0, 0], [s21, 0]).without(0, 1).without(1, 1)
    curve = series_resistor.compute_loss(
        loss_request("series_resistor", ratio, sweep=sweep, series_ohm=rs_ohm)
    )
    assert np.allclose(curve.loss_db, 0, atol=6e-5)


def test_the_resistor_alone_reads_the_mismatch_of_the_ratio():
    # computed independently: 150 ohm alone in 50/50 is S21 0.4; a plain through in place of a 4:1 loses
    # 1.938 dB
    # (section 3)
    sweep = flat([0.6, 0], [0.4, 0]).without(0, 1).without(1, 1)
    curve = series_resistor.compute_loss(loss_request("series_resistor", 4, sweep=sweep, series_ohm=150.0))
    assert np.allclose(curve.loss_db, 1.93820, atol=1e-5)
    assert np.allclose(curve.mismatch_db, 1.93820, atol=1e-5)
    assert np.allclose(curve.dissipative_db, 0, atol=1e-9)


@pytest.mark.parametrize("ratio", [4, 9, 49])
@pytest.mark.parametrize("make", [good, poor])
@pytest.mark.parametrize(("near", "far"), UNEVEN)
def test_exact_for_every_simulated_device(ratio, make, near, far):
    # independent simulation: scikit-rf; asked for: within 0.01 dB rms
    design = make(ratio, near=near, far=far)
    nominal = 50.0 * (ratio - 1)
    for unmeasured in (ONE_WAY, ()):
        sweep = swept(through_resistor(design, nominal), unmeasured=unmeasured)
        curve = series_resistor.compute_loss(
            loss_request("series_resistor", ratio, sweep=sweep, series_ohm=nominal)
        )
        error_db = curve.loss_db - true_loss_db(design)
        assert np.sqrt(np.mean(error_db**2)) < 1e-5
        assert np.allclose(curve.mismatch_db + curve.dissipative_db, curve.loss_db)
        assert curve.dissipative_db.min() > 0


def test_a_full_two_port_takes_an_odd_resistor_out_and_one_direction_says_where_it_stands():
    design = poor(9)
    network = through_resistor(design, 470.0)
    full = series_resistor.compute_loss(
        loss_request("series_resistor", 9, sweep=swept(network), series_ohm=470.0)
    )
    assert np.allclose(full.loss_db, true_loss_db(design), atol=1e-5)
    assert codes(full.flags) == set()
    one_way = series_resistor.compute_loss(
        loss_request("series_resistor", 9, sweep=swept(network, unmeasured=ONE_WAY), series_ohm=470.0)
    )
    into_520 = device(design).copy()
    into_520.renormalize([50, 520])
    assert np.allclose(one_way.loss_db, -into_520.s_db[:, 1, 0], atol=1e-5)
    assert "series_off_nominal" in codes(one_way.flags)
    assert "520" in one_way.assumption


def test_the_uncertainty_is_that_of_the_mismatched_port():
    # closed form: port 2 (20 dB) sees 400 + 450 ohm, |G| 0.8889: 8.686 x 0.1 x 0.8889 to first order
    sweep = flat([0, 0], [1 / 3, 0], freq_hz=(1e6, 2e6)).without(0, 1).without(1, 1)
    quiet = Analyser(drift_db=0.0, noise=0.0, resistor_percent=0.0)
    curve = series_resistor.compute_loss(
        loss_request("series_resistor", 9, sweep=sweep, series_ohm=400.0, analyser=quiet)
    )
    tracking = 8.686 * 0.01
    assert np.allclose(curve.uncertainty_db, np.hypot(8.686 * 0.1 * 800 / 900, tracking), rtol=0.08)


@pytest.mark.parametrize(("ratio", "before_db", "after_db"), [(4, 0.67, 0.09)])
def test_the_through_makes_it_useful_on_one_path(ratio, before_db, after_db):
    # trade page, 6: U falls from 0.67 to 0.09 dB at 4:1 with the port-2 match out of the jig's through
    rs, nominal = 50.0 * (ratio - 1), 50.0 * ratio
    measured = Analyser(paths=1, drift_db=0.05, noise=0.001, resistor_percent=0.5)
    g2 = 0.1j
    z2 = 50 * (1 + g2) / (1 - g2)
    # closed form: an ideal transformer into Rs + Z2, its S21 relative to the through
    current = 1 / np.sqrt(ratio) / (50 + (rs + z2) / ratio)
    sweep = flat([0, 0], [current * z2 / (z2 / (50 + z2)), 0], freq_hz=(1e6, 2e6)).without(0, 1).without(1, 1)
    through = flat([g2, 0], [1, 0], freq_hz=(1e6, 2e6)).without(0, 1).without(1, 1)
    given = {"sweep": sweep, "series_ohm": rs, "analyser": measured}
    plain = series_resistor.compute_loss(loss_request("series_resistor", ratio, **given))
    corrected = series_resistor.compute_loss(
        loss_request("series_resistor", ratio, **given, jig_through=through)
    )
    # the ideal transformer loses what its load beside the nominal one reflects, and nothing else
    gamma = (rs + z2 - nominal) / (rs + z2 + nominal)
    assert np.allclose(corrected.loss_db, -10 * np.log10(1 - abs(gamma) ** 2), atol=1e-9)
    assert np.allclose(plain.uncertainty_db, before_db, atol=0.03)
    assert np.allclose(corrected.uncertainty_db, after_db, atol=0.03)


def test_resistor_and_ratio_are_checked():
    sweep = swept(through_resistor(good(4), 150.0), unmeasured=ONE_WAY)
    assumed = series_resistor.compute_loss(loss_request("series_resistor", 4, sweep=sweep))
    assert "series_assumed" in codes(assumed.flags)
    assert np.allclose(assumed.loss_db, true_loss_db(good(4)), atol=1e-5)
    for given, field in (({"series_ohm": -1.0}, "series_ohm"), ({"series_ohm": float("nan")}, "series_ohm")):
        with pytest.raises(BenchnightError) as refused:
            series_resistor.compute_loss(loss_request("series_resistor", 4, sweep=sweep, **given))
        assert refused.value.field == field
    with pytest.raises(BenchnightError) as down:
        series_resistor.compute_loss(loss_request("series_resistor", 0.25, sweep=sweep))
    assert (down.value.code, down.value.field) == ("insertion_loss.series_ratio", "ratio")


def test_no_s11_no_split_and_no_signal_no_loss():
    sweep = swept(through_resistor(good(4), 150.0), unmeasured=(*ONE_WAY, (0, 0)))
    curve = series_resistor.compute_loss(loss_request("series_resistor", 4, sweep=sweep))
    assert curve.mismatch_db is None
    assert curve.dissipative_db is None
    silent = series_resistor.compute_loss(
        loss_request("series_resistor", 4, sweep=flat([1, 0], [0, 1]), series_ohm=150.0)
    )
    assert np.isnan(silent.loss_db).all()
