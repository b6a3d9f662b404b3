"""Flags on sweeps that cannot be true fire, and stay silent on good noisy ones."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from measurements.rf.instruments import sweep_checks
from tests.rf import benches

FREQ = benches.linear_hz()


def nearly_lossless():
    """0.01 dB through, the hardest case for noise: |S11|^2 + |S21|^2 is 0.998."""
    m = benches.medium(FREQ)
    return (m.attenuator(-0.01) ** m.inductor(40e-9)).s


def codes(flags):
    return [found.code for found in flags]


@settings(deadline=None, max_examples=60)
@given(
    st.integers(0, 2**31),
    st.sampled_from(["through", "open", "choke", "high choke"]),
    st.sampled_from([51, 401]),
)
def test_good_noisy_sweeps_are_not_flagged(seed, device, points):
    freq = benches.linear_hz(points)
    m = benches.medium(freq)
    s = {
        "through": (m.attenuator(-0.01) ** m.inductor(40e-9)).s,
        "open": m.capacitor(0.5e-12).s,
        "choke": benches.choke(freq),
        "high choke": benches.choke(freq, 60e-6, 20e3, 1e-12),
    }[device]
    for level in (0.002, 0.0028):  # rms of a complex S-parameter; 0.002 on each of its parts
        noisy = benches.two_port(freq, benches.noisy(s, seed, level))
        assert sweep_checks.flag_sweep_faults(noisy, "sweep") == ()


@pytest.mark.parametrize(
    ("excess", "flagged"), [(0.004, False), (0.0116, False), (0.02, False), (0.06, True)]
)
def test_active_beyond_the_assumed_errors(excess, flagged):
    s = nearly_lossless()
    power = np.abs(s[:, 0, 0]) ** 2 + np.abs(s[:, 1, 0]) ** 2
    s = s * np.sqrt((1 + excess) / power)[:, None, None]
    for sweep in (benches.two_port(FREQ, s), benches.one_way(FREQ, s)):
        assert ("not_passive" in codes(sweep_checks.flag_sweep_faults(sweep, "sweep"))) == flagged
    if flagged:
        noisy = benches.two_port(FREQ, benches.noisy(s, 3))
        assert "not_passive" in codes(sweep_checks.flag_sweep_faults(noisy, "sweep"))


def test_one_single_point_far_out_is_enough():
    s = np.array(benches.choke(FREQ))
    s[200, 0, 0] *= 1.1
    flags = sweep_checks.flag_not_passive(benches.one_way(FREQ, s), "sweep")
    assert codes(flags) == ["not_passive"] and "15.5 MHz" in flags[0].message


def test_a_part_of_the_sweep_that_is_active_is_found():
    s = nearly_lossless()
    s[300:340] *= 1.04
    sweep = benches.two_port(FREQ, benches.noisy(s, 7))
    assert codes(sweep_checks.flag_not_passive(sweep, "sweep")) == ["not_passive"]


def test_unmeasured_columns_count_as_nothing():
    s = np.full((401, 2, 2), 0.9, complex)
    assert sweep_checks.flag_not_passive(benches.two_port(FREQ, s, [[0, 0], [1, 0]]), "sweep") == ()
    assert codes(sweep_checks.flag_not_passive(benches.two_port(FREQ, s), "sweep")) == ["not_passive"]


def test_the_other_port_is_looked_at_too():
    s = np.array(benches.choke(FREQ))
    s[:, 1, 1] = 1.1
    assert codes(sweep_checks.flag_not_passive(benches.two_port(FREQ, s), "sweep")) == ["not_passive"]


def test_reflection_above_one():
    """A residual of 0.01 lets an honest |S11| of 1 reach 1.02 and more with drift; 1.05 is no residual."""
    for size, flagged in ((1.01, []), (1.02, []), (1.05, ["not_passive"])):
        sweep = benches.one_port(FREQ, benches.noisy(np.full(401, size), 2))
        assert codes(sweep_checks.flag_not_passive(sweep, "sweep")) == flagged


@pytest.mark.parametrize(("factor", "flagged"), [(1.0, False), (0.985, False), (0.93, True), (-1.0, True)])
def test_not_reciprocal(factor, flagged):
    s = nearly_lossless()
    s[:, 0, 1] *= factor
    flags = sweep_checks.flag_not_reciprocal(benches.two_port(FREQ, benches.noisy(s, 11)), "sweep")
    assert (codes(flags) == ["not_reciprocal"]) == flagged


def test_reciprocity_needs_both_directions():
    s = nearly_lossless()
    s[:, 0, 1] = 0
    assert sweep_checks.flag_not_reciprocal(benches.one_way(FREQ, s), "sweep") == ()
    assert codes(sweep_checks.flag_sweep_faults(benches.one_way(FREQ, s), "sweep")) == ["unmeasured_columns"]


def test_unmeasured_columns_are_named_where_it_matters():
    sweep = benches.one_way(FREQ, nearly_lossless())
    assert "S12 and S22" in sweep_checks.flag_unmeasured(sweep, "sweep")[0].message
    assert sweep_checks.flag_sweep_faults(sweep, "jig_open") == ()


@given(st.integers(1, 12), st.floats(0.5, 1.5))
def test_short_sweeps_are_judged_too(points, scale):
    s = np.full((points, 1, 1), scale, complex)
    flags = sweep_checks.flag_not_passive(
        benches.one_port(np.arange(1, points + 1) * 1e6, s[:, 0, 0]), "sweep"
    )
    allowed = 2 * scale * 0.0416 + 0.0416**2  # 0.01 three times, and 0.1 dB of drift
    if abs(scale**2 - 1 - allowed) > 0.01:
        assert bool(flags) == (scale**2 - 1 > allowed)
