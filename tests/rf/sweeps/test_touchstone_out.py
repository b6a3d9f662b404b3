"""What is written reads back to the same numbers, here and in scikit-rf."""

from __future__ import annotations

import io
from dataclasses import replace

import numpy as np
import pytest
import skrf
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.extra import numpy as arrays

from measurements.errors import BenchnightError
from measurements.rf.sweeps.reading import read_sweep
from measurements.rf.sweeps.sweep import Sweep
from measurements.rf.sweeps.touchstone import format_touchstone


def sweep_of(ports: int, points: int = 5, z0_ohm: list[float] | None = None, seed: int = 1) -> Sweep:
    rng = np.random.default_rng(seed)
    s = rng.uniform(-1, 1, (points, ports, ports)) + 1j * rng.uniform(-1, 1, (points, ports, ports))
    return Sweep(
        np.linspace(1e6, 54e6, points) / 3,
        s,
        np.array(z0_ohm or [50.0] * ports),
        np.ones((ports, ports), dtype=bool),
    )


def by_scikit_rf(text: str, ports: int) -> skrf.Network:
    stream = io.StringIO(text)
    stream.name = f"written.s{ports}p"
    return skrf.Network(stream)


@pytest.mark.parametrize("ports", [1, 2, 3, 4])
@pytest.mark.parametrize("per_port", [False, True])
def test_scikit_rf_reads_the_same_numbers(ports: int, per_port: bool) -> None:
    sweep = sweep_of(ports, z0_ohm=[50.0 + 12.5 * k * per_port for k in range(ports)])
    network = by_scikit_rf(format_touchstone(sweep, comments=["a percentile curve"]), ports)
    np.testing.assert_allclose(network.s, sweep.s, rtol=0, atol=1e-12)
    np.testing.assert_allclose(network.f, sweep.freq_hz, rtol=1e-12)
    np.testing.assert_allclose(network.z0[0], sweep.z0_ohm, rtol=1e-12)


@settings(max_examples=200, deadline=None)
@given(
    st.integers(1, 4).flatmap(
        lambda ports: arrays.arrays(
            np.complex128,
            st.tuples(st.integers(1, 4), st.just(ports), st.just(ports)),
            elements=st.complex_numbers(min_magnitude=1e-300, max_magnitude=1e5, allow_nan=False),
        )
    ),
    st.lists(st.text(max_size=60), max_size=3),
)
def test_our_reader_gets_every_bit_back(s: np.ndarray, comments: list[str]) -> None:
    points, ports, _ = s.shape
    sweep = Sweep(
        np.arange(1.0, points + 1) * 1e6 / 7, s, np.full(ports, 50.0), np.ones((ports, ports), dtype=bool)
    )
    back = read_sweep(format_touchstone(sweep, comments=comments).encode("ascii"), f"a.s{ports}p")
    np.testing.assert_array_equal(back.s, s)
    np.testing.assert_array_equal(back.freq_hz, sweep.freq_hz)


def test_columns_not_measured_are_zeros_and_named_and_found_again() -> None:
    sweep = sweep_of(2).without(0, 1).without(1, 1)
    text = format_touchstone(sweep)
    assert "! - Not measured, written as zeros: S12, S22.\n" in text
    back = read_sweep(text.encode(), "a.s2p")
    assert back.measured.tolist() == [[True, False], [True, False]]
    np.testing.assert_array_equal(back.s[:, :, 0], sweep.s[:, :, 0])
    assert not back.s[:, :, 1].any()


def test_sizes_without_phase_are_refused() -> None:
    with pytest.raises(BenchnightError) as caught:
        format_touchstone(replace(sweep_of(1), magnitude_only=True))
    assert caught.value.code == "sweep.magnitude_only"


@pytest.mark.parametrize(
    "comment",
    [
        "first\n# GHz S MA R 75\n1 2 3",
        "first\r# GHz S MA R 75",
        "a\u2028# Hz\x85b\x0bc\x00",
        "Port Impedance 377 0 377 0",
        "Gamma 1 2",
        "\u00b5\u03a9 \U0001f600 \ud800",
        "x" * 10_000,
        "[Version] 2.0",
        "",
    ],
)
def test_comments_stay_comments(comment: str) -> None:
    sweep = sweep_of(2)
    text = format_touchstone(sweep, comments=[comment])
    text.encode("ascii")
    head, _, _ = text.partition("# Hz S RI R 50.0\n")
    assert all(line.startswith("! - ") and len(line) <= 104 for line in head.splitlines())
    assert all(mark.isprintable() or mark == "\n" for mark in text)
    assert text.count("#") == 1 + comment.count("#")
    np.testing.assert_allclose(by_scikit_rf(text, 2).s, sweep.s, rtol=0, atol=1e-12)
    np.testing.assert_array_equal(by_scikit_rf(text, 2).z0, np.full((5, 2), 50))
