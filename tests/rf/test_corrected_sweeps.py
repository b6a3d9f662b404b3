"""A test's sweep merged or free of its jig: against circuits of scikit-rf, read back by scikit-rf."""

from __future__ import annotations

import numpy as np
import pytest
import skrf

from measurements.errors import BenchnightError
from measurements.rf import corrected_sweeps
from measurements.rf.request import Request
from measurements.rf.sweeps import touchstone
from tests.rf import benches

FREQ = benches.linear_hz(101)


def read_back(made, tmp_path):
    path = tmp_path / f"out.s{made.sweep.ports}p"
    path.write_text(touchstone.format_touchstone(made.sweep, comments=made.said), encoding="ascii")
    return skrf.Network(str(path))


def in_a_jig(device: np.ndarray | None, *, linked: bool = False) -> np.ndarray:
    """(F, 2, 2) S of clips with 8 nH in series and 0.4 pF across, around a device, a link or nothing."""
    m = benches.medium(FREQ)
    jw = 2j * np.pi * FREQ
    y_device = 1e6 + 0j if linked else 0 if device is None else 1 / skrf_z(device)
    z = jw * 8e-9 + 1 / (y_device + jw * 0.4e-12)
    return skrf.network.y2s(
        np.stack([np.stack([1 / z, -1 / z], -1), np.stack([-1 / z, 1 / z], -1)], -2), m.z0[:, None] * [1, 1]
    )


def skrf_z(s: np.ndarray) -> np.ndarray:
    """(F,) series impedance of a two-port, -1/Y21, as scikit-rf converts it."""
    return -1 / skrf.network.s2y(s, 50)[:, 1, 0]


def request(**sweeps) -> Request:
    return Request(kind="common_mode", sweeps=sweeps, bands=benches.BANDS)


class TestMerged:
    def test_is_the_two_port_that_was_swept_in_two_halves(self, tmp_path):
        m = benches.medium(FREQ)
        lopsided = (m.shunt_capacitor(20e-12) ** m.inductor(2e-6) ** m.resistor(30)).s
        turned = lopsided[:, ::-1, ::-1]
        made = corrected_sweeps.merge_test_sweeps(
            request(sweep=benches.one_way(FREQ, lopsided), sweep_reversed=benches.one_way(FREQ, turned))
        )
        network = read_back(made, tmp_path)
        assert np.array_equal(network.s, lopsided) and np.array_equal(network.f, FREQ)
        assert any("turned round" in sentence for sentence in made.said)

    @pytest.mark.parametrize("roles", [("sweep",), ("sweep_reversed",), ()])
    def test_with_one_half_there_is_nothing_to_merge(self, roles):
        half = benches.one_way(FREQ, benches.choke(FREQ))
        with pytest.raises(BenchnightError) as caught:
            corrected_sweeps.merge_test_sweeps(request(**dict.fromkeys(roles, half)))
        assert (caught.value.code, caught.value.field) == ("corrected.not_turned", "form")


class TestCompensated:
    def test_is_the_device_without_its_jig(self, tmp_path):
        device = benches.choke(FREQ)
        made = corrected_sweeps.compensate_test_sweep(
            request(
                sweep=benches.two_port(FREQ, in_a_jig(device)),
                jig_open=benches.two_port(FREQ, in_a_jig(None)),
                jig_short=benches.two_port(FREQ, in_a_jig(None, linked=True)),
            )
        )
        network = read_back(made, tmp_path)
        assert skrf_z(network.s) == pytest.approx(skrf_z(device), rel=1e-5)
        assert np.abs(skrf_z(in_a_jig(device)) / skrf_z(device) - 1).max() > 0.02  # the jig did something
        assert (network.z0 == 50).all()

    def test_only_a_through_divides(self, tmp_path):
        device, line = benches.choke(FREQ), benches.medium(FREQ).line(3, "deg").s
        lossy = 0.9 * line
        made = corrected_sweeps.compensate_test_sweep(
            request(
                sweep=benches.one_way(FREQ, device * 0.9),
                jig_through=benches.one_way(FREQ, np.abs(lossy) + 0j),
            )
        )
        network = read_back(made, tmp_path)
        assert np.abs(network.s[:, 1, 0]) == pytest.approx(np.abs(device[:, 1, 0]), rel=1e-6)
        assert any("through" in sentence for sentence in made.said)

    def test_a_jig_that_reaches_less_far_cuts_it(self):
        device = benches.choke(FREQ)
        inner = slice(1, 100)
        made = corrected_sweeps.compensate_test_sweep(
            request(
                sweep=benches.two_port(FREQ, in_a_jig(device)),
                jig_open=benches.two_port(FREQ[inner], in_a_jig(None)[inner]),
                jig_short=benches.two_port(FREQ[inner], in_a_jig(None, linked=True)[inner]),
            )
        )
        assert made.sweep.freq_hz[[0, -1]].tolist() == FREQ[[1, 99]].tolist()

    @pytest.mark.parametrize(
        ("changes", "code"),
        [
            ({}, "corrected.no_jig"),
            ({"jig_open": "open"}, "corrected.no_jig"),
            ({"kind": "balance", "jig_open": "open"}, "corrected.no_jig"),
        ],
    )
    def test_without_what_it_takes(self, changes, code):
        sweeps = {"sweep": benches.two_port(FREQ, in_a_jig(benches.choke(FREQ)))}
        if "jig_open" in changes:
            sweeps["jig_open"] = benches.two_port(FREQ, in_a_jig(None))
        asked = Request(kind=changes.get("kind", "common_mode"), sweeps=sweeps, bands=benches.BANDS)
        with pytest.raises(BenchnightError) as caught:
            corrected_sweeps.compensate_test_sweep(asked)
        assert (caught.value.code, caught.value.field) == (code, "form")
