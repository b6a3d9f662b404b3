"""Thousands at once give what one by one gives: same figures, same flags, same curves."""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from measurements.rf import analysis, analysis_batches
from measurements.rf.analysis import Request, analyse
from measurements.rf.analysis_batches import analyse_many
from measurements.rf.bands import Band
from measurements.rf.networks import series_through
from measurements.rf.request import Limits
from tests.rf import benches

FREQ_HZ = benches.linear_hz(201)


def request(sweep, **changes) -> Request:
    given = {
        "kind": "common_mode",
        "ratio": Fraction(1),
        "sweeps": {"sweep": sweep},
        "calibrated": True,
        "limits": Limits(),
        "bands": benches.BANDS,
    }
    return Request(**{**given, **changes})


def chokes(count: int, rng: np.random.Generator, freq_hz=FREQ_HZ, noise: float = 1e-4) -> list[np.ndarray]:
    """S of chokes from hopeless to splendid, with noise."""
    found = []
    for _ in range(count):
        s = benches.choke(
            freq_hz,
            inductance=10 ** rng.uniform(-6, -3.8),
            resistance=10 ** rng.uniform(2, 4.5),
            capacitance=10 ** rng.uniform(-13, -10.5) if rng.random() < 0.9 else 0.0,
        )
        found.append(s + noise * (rng.normal(size=s.shape) + 1j * rng.normal(size=s.shape)))
    return found


def odd_ones(freq_hz) -> list[np.ndarray]:
    """What the single path flags, or nearly does."""
    through = np.zeros((freq_hz.size, 2, 2), complex)
    through[:, 0, 1] = through[:, 1, 0] = 0.97
    dead = benches.choke(freq_hz).copy()
    dead[len(dead) // 2, 1, 0] = 0
    one_way_gain = benches.choke(freq_hz).copy()
    one_way_gain[:, 1, 0] *= 1.5
    active = benches.choke(freq_hz) * 1.02
    tiny = benches.choke(freq_hz).copy()
    tiny[-1, 0, 0] = 1e-17
    clips = benches.choke(freq_hz, inductance=1.0, resistance=1e9, capacitance=1e-12)
    odd = [through, through * 0.1, dead, one_way_gain, active, tiny, clips]
    return [*odd, *miswired(freq_hz), *odd_impedances(freq_hz)]


def miswired(freq_hz) -> list[np.ndarray]:
    """Cable or gain that calibration left in, phase of the wrong sign, an antenna, a transformer.

    Not all of these raise a flag today; whichever check is added, many at once must tell what one tells.
    """
    choke = benches.choke(freq_hz)
    cables = [
        choke * np.exp(-4j * np.pi * freq_hz * metres / 2e8)[:, None, None] for metres in (0.05, 0.3, 2)
    ]
    gain = choke.copy()
    gain[:, 1, 0] *= 1.05
    antenna = np.zeros_like(choke)
    antenna[:, 0, 0] = 0.8 * np.exp(-2j * np.pi * freq_hz / 5e6)
    antenna[:, 1, 0] = antenna[:, 0, 1] = 1e-3
    transformer = np.zeros_like(choke)
    transformer[:] = [[-0.6, 0.79], [0.79, 0.6]]
    slack = choke.copy()
    slack[:, 0, 0] *= 0.97
    return [*cables, gain, choke.conj(), antenna, transformer, slack]


def odd_impedances(freq_hz) -> list[np.ndarray]:
    """No self-resonance, one that passes the other way, two of them, and one that noise makes many of."""
    jw = 2j * np.pi * np.maximum(freq_hz, 1.0)
    series = jw * 2e-6 + 1 / (jw * 50e-12) + 400
    twice = benches.choke_z(jw.imag / (2 * np.pi), 20e-6, 8000, 20e-12) + benches.choke_z(
        jw.imag / (2 * np.pi), 2e-6, 8000, 20e-12
    )
    noise = np.random.default_rng(14).normal(size=freq_hz.size)
    wavering = 3000 + 1j * (2000 - 4000 * (freq_hz > freq_hz.mean()) + 3000 * noise)
    impedances = [
        np.full(freq_hz.size, 900 + 0j),
        jw * 5e-6,
        1 / (jw * 20e-12) + 200,
        series,
        twice,
        wavering,
    ]
    return [series_through.build_series_s(z_ohm) for z_ohm in impedances]


def assert_equal(found, expected) -> None:
    assert found.result == expected.result
    assert list(found.traces) == list(expected.traces)
    for name, values in expected.traces.items():
        assert np.array_equal(found.traces[name], values, equal_nan=True), name
    assert np.array_equal(found.evidence.z_ohm, expected.evidence.z_ohm, equal_nan=True)


@pytest.mark.parametrize("as_measured", [benches.two_port, benches.one_way])
@pytest.mark.parametrize("freq_hz", [FREQ_HZ, np.geomspace(2e6, 20e6, 31)], ids=["fine", "part"])
def test_equal_one_by_one(as_measured, freq_hz, monkeypatch):
    rng = np.random.default_rng(11)
    s = [*chokes(150, rng, freq_hz), *odd_ones(freq_hz)]
    requests = [request(as_measured(freq_hz, each)) for each in s]
    expected = [analyse(each) for each in requests]
    alone = []
    monkeypatch.setattr(analysis, "analyse", lambda each: alone.append(each) or analyse(each))
    for found, wanted in zip(analyse_many(requests), expected, strict=True):
        assert_equal(found, wanted)
    assert len(alone) < 0.5 * len(requests)  # most did go through together
    assert any(wanted.result["flags"] for wanted in expected)


@pytest.mark.parametrize("as_measured", [benches.two_port, benches.one_way])
@pytest.mark.parametrize(
    ("freq_hz", "bands"),
    [
        (np.array([7.1e6]), benches.BANDS),
        (np.array([6e6, 7.1e6, 8e6]), benches.BANDS),
        (np.linspace(0.0, 30e6, 101), benches.BANDS),
        (np.linspace(1e6, 30e6, 901), benches.BANDS),
        (np.linspace(7.2e6, 28.5e6, 60), benches.BANDS),
        (np.linspace(4.5e6, 6.5e6, 21), benches.BANDS),
        (np.linspace(1e6, 30e6, 51), ()),
        (np.linspace(1e6, 30e6, 51), (*benches.BANDS[::-1], benches.BAND_40M, Band("wide", 3e6, 29e6))),
    ],
    ids=["a point", "three", "from zero", "long", "edges", "between", "no bands", "overlapping"],
)
def test_equal_on_any_grid(freq_hz, bands, as_measured):
    rng = np.random.default_rng(15)
    s = [*chokes(30, rng, np.maximum(freq_hz, 1.0)), *odd_ones(np.maximum(freq_hz, 1.0))]
    requests = [request(as_measured(freq_hz, each), bands=bands) for each in s]
    for found, each in zip(analyse_many(requests), requests, strict=True):
        assert_equal(found, analyse(each))


@pytest.mark.parametrize("count", [1, analysis_batches.FEW])
def test_equal_however_few(count):
    requests = [request(benches.one_way(FREQ_HZ, s)) for s in chokes(count, np.random.default_rng(16))]
    for found, each in zip(analyse_many(requests), requests, strict=True):
        assert_equal(found, analyse(each))


def test_sweeps_that_each_have_their_own_frequencies_prepare_nothing_together(monkeypatch):
    rng = np.random.default_rng(18)
    lists_hz = [benches.linear_hz(points) for points in range(61, 67)]
    requests = [request(benches.one_way(hz, s)) for hz in lists_hz for s in chokes(1, rng, hz)]
    expected = [analyse(each) for each in requests]
    monkeypatch.setattr(analysis_batches, "_Shared", None)
    for found, wanted in zip(analyse_many(requests), expected, strict=True):
        assert_equal(found, wanted)


def test_results_share_nothing_that_one_of_them_may_change():
    requests = [
        request(benches.one_way(FREQ_HZ, s)) for s in chokes(8, np.random.default_rng(17), noise=1e-5)
    ]
    first, *others = analyse_many(requests)
    first.result["bands"][0]["band"] = "changed"
    first.result["flags"][0]["code"] = "changed"
    first.result["inputs"][0]["notes"].append("changed")
    for found, each in zip(others, requests[1:], strict=True):
        assert_equal(found, analyse(each))


def test_kinds_grids_limits_and_jigs_are_kept_apart():
    rng = np.random.default_rng(12)
    (a, b, c, d) = chokes(4, rng)
    other_hz = benches.linear_hz(101)
    mixed = [
        *(request(benches.two_port(FREQ_HZ, s)) for s in (a, b, c, d)),
        *(request(benches.two_port(FREQ_HZ, s), limits=Limits(benchmark_db=15.0)) for s in (a, b, c, d)),
        *(request(benches.two_port(other_hz, s)) for s in chokes(4, rng, other_hz)),
        request(benches.two_port(FREQ_HZ, a), calibrated=False),
        request(benches.two_port(FREQ_HZ, a), same_bytes=True),
        request(benches.two_port(FREQ_HZ, a), sweeps={
            "sweep": benches.two_port(FREQ_HZ, a),
            "jig_open": benches.two_port(FREQ_HZ, benches.choke(FREQ_HZ, 1.0, 1e9, 5e-14)),
        }),
        request(benches.one_port(FREQ_HZ, a[:, 0, 0])),
        Request(kind="load_match", ratio=Fraction(1), sweeps={"sweep": benches.one_port(FREQ_HZ, a[:, 0, 0])},
                calibrated=True, bands=benches.BANDS),
    ]  # fmt: skip
    for found, each in zip(analyse_many(mixed), mixed, strict=True):
        wanted = analyse(each)
        assert found.result == wanted.result


def test_nothing_asked_is_nothing_found():
    assert analyse_many([]) == []


def test_portions_do_not_show(monkeypatch):
    rng = np.random.default_rng(13)
    requests = [request(benches.two_port(FREQ_HZ, s)) for s in chokes(20, rng)]
    whole = analyse_many(requests)
    monkeypatch.setattr(analysis_batches, "TOGETHER", 7)
    for found, wanted in zip(analyse_many(requests), whole, strict=True):
        assert_equal(found, wanted)
