"""Sweeps that look wired, or filed, as something else; and good ones that do not."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st

from measurements.rf.analysis import Request, analyse
from tests.rf import benches
from tests.rf.benches import codes

FREQ = benches.linear_hz()
LOOKS = {
    "looks_like_through",
    "looks_open",
    "looks_like_insertion_loss",
    "looks_like_common_mode",
    "looks_unterminated",
}


def looks(kind, s, *, one_way=False, jig_open=None, **changes):
    sweep = (benches.one_way if one_way else benches.two_port)(FREQ, s)
    sweeps = (
        {"sweep": sweep}
        if jig_open is None
        else {"sweep": sweep, "jig_open": benches.two_port(FREQ, jig_open)}
    )
    request = Request(kind, sweeps=sweeps, bands=benches.BANDS, calibrated=True, **changes)
    return codes(analyse(request).result) & LOOKS


def transformer(ratio, magnetising=15e-6, leakage=60e-9):
    """Leakage and magnetising inductance around an ideal transformer, between 50-ohm ports."""
    m = benches.medium(FREQ)
    n = np.sqrt(ratio)
    s = np.empty((401, 2, 2), complex)
    s[:, 0, 0], s[:, 1, 1] = (1 - ratio) / (1 + ratio), (ratio - 1) / (1 + ratio)
    s[:, 0, 1] = s[:, 1, 0] = 2 * n / (1 + ratio)
    front = m.inductor(leakage) ** m.shunt_inductor(magnetising) ** m.resistor(0.5)
    return (front ** skrf.Network(frequency=m.frequency, s=s, z0=50)).s


CHOKES = {
    "mild": (8e-6, 2000.0, 3e-12),
    "usual": (20e-6, 5000.0, 2e-12),
    "best": (120e-6, 15e3, 2e-12),
    "poor": (2e-6, 400.0, 3e-12),
    "low": (1e-6, 5000.0, 0.0),
    "flat resistive": (400e-6, 216.0, 0.5e-12),
}


@settings(deadline=None, max_examples=30)
@given(st.sampled_from(sorted(CHOKES)), st.integers(0, 2**31), st.booleans())
def test_real_chokes_look_like_nothing_else(name, seed, one_way):
    s = benches.noisy(benches.choke(FREQ, *CHOKES[name]), seed)
    assert looks("common_mode", s, one_way=one_way) == set()


@settings(deadline=None, max_examples=30)
@given(st.sampled_from([1, 4, 9, 49]), st.integers(0, 2**31), st.booleans())
def test_real_transformers_look_like_nothing_else(ratio, seed, one_way):
    s = benches.noisy(transformer(ratio), seed)
    assert looks("insertion_loss", s, one_way=one_way, ratio=Fraction(ratio)) == set()


@pytest.mark.parametrize("seed", range(3))
def test_plain_connection_in_a_common_mode_test(seed):
    m = benches.medium(FREQ)
    wire = (m.line(0.3, "m", z0=50) ** m.inductor(100e-9)).s
    assert looks("common_mode", benches.noisy(wire, seed)) == {"looks_like_through"}


def test_one_to_one_filed_as_common_mode_is_a_through():
    assert looks("common_mode", transformer(1)) == {"looks_like_through"}


@pytest.mark.parametrize("ratio", [4, 9, 16])
@pytest.mark.parametrize("seed", range(2))
def test_insertion_loss_filed_as_common_mode(ratio, seed):
    s = benches.noisy(transformer(ratio), seed)
    assert looks("common_mode", s) == {"looks_like_insertion_loss"}


def test_insertion_loss_filed_as_common_mode_without_s11():
    s = transformer(4)
    sweep = benches.two_port(FREQ, s, [[0, 0], [1, 0]])
    request = Request("common_mode", sweeps={"sweep": sweep}, bands=benches.BANDS, calibrated=True)
    assert codes(analyse(request).result) & LOOKS == {"looks_like_insertion_loss"}


@pytest.mark.parametrize("name", ["usual", "best", "mild"])
@pytest.mark.parametrize("one_way", [True, False])
@pytest.mark.parametrize("ratio", [1, 4])
def test_common_mode_filed_as_insertion_loss(name, one_way, ratio):
    s = benches.noisy(benches.choke(FREQ, *CHOKES[name]), 5)
    got = looks("insertion_loss", s, one_way=one_way, ratio=Fraction(ratio), method="direct")
    assert got == {"looks_like_common_mode"}


@pytest.mark.parametrize("picofarad", [0.2, 1.0, 2.0])
@pytest.mark.parametrize("seed", range(2))
def test_nothing_attached(picofarad, seed):
    m = benches.medium(FREQ)
    empty = benches.noisy(m.capacitor(picofarad * 1e-12).s, seed, 0.0002)
    assert looks("common_mode", empty) == {"looks_open"}


def test_nothing_attached_beside_the_jigs_own_open_sweep():
    m = benches.medium(FREQ)
    empty = (m.resistor(2500) ** m.inductor(1e-6)).s  # a leaky jig
    assert looks("common_mode", empty, jig_open=empty * 1.1) == {"looks_open"}
    assert looks("common_mode", benches.choke(FREQ, 8e-6, 900), jig_open=empty) == set()


def test_nothing_but_noise():
    assert looks("common_mode", benches.noisy(np.tile(np.eye(2), (401, 1, 1)), 4)) == {"looks_open"}
    assert looks("insertion_loss", benches.noisy(np.tile(np.eye(2), (401, 1, 1)), 4)) == {"looks_open"}


@pytest.mark.parametrize(
    ("s11", "fires"), [(1.0, True), (-1.0, True), (0.97j, True), (0.6, False), (0.05, False)]
)
def test_load_missing_or_shorted(s11, fires):
    sweep = benches.one_port(FREQ, benches.noisy(np.full(401, s11 * 0.995), 6))
    request = Request(
        "load_match", sweeps={"sweep": sweep}, bands=benches.BANDS, calibrated=True, load_ohm=50.0
    )
    assert ("looks_unterminated" in codes(analyse(request).result)) == fires
