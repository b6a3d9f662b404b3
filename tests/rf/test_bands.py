"""Coverage of bands, and worst, centre and best with the edges interpolated in complex S."""

from __future__ import annotations

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from measurements.rf.bands import (
    Band,
    build_band_grid,
    compute_band_metric,
    compute_band_metrics,
    cut_sweep,
    interpolate,
    judge_band,
    judge_covered_part,
    resample_sweep,
)
from tests.rf import benches

BAND = Band("40m", 7.0e6, 7.3e6)


@pytest.mark.parametrize(
    ("freq_mhz", "coverage", "points"),
    [
        ([6, 7.1, 7.2, 8], "full", 2),
        ([7.0, 7.3], "full", 2),
        ([6, 7.15, 8], "interpolated", 1),
        ([6, 8], "interpolated", 0),
        ([6, 7.1], "partial", 1),
        ([7.1, 7.2, 7.25, 9], "partial", 3),
        ([7.29, 40], "partial", 1),
        ([1, 6.9], "none", 0),
        ([7.4, 9], "none", 0),
        ([1, 7.0], "none", 1),  # touching an edge covers nothing
        ([7.1], "partial", 1),
    ],
)
def test_coverage(freq_mhz, coverage, points):
    view = build_band_grid(np.array(freq_mhz) * 1e6, (BAND,)).views[0]
    assert (view.coverage, view.points_in_band) == (coverage, points)
    assert view.judged == (coverage in ("full", "interpolated"))


def test_edges_come_from_the_complex_chord_between_neighbours():
    freq = np.array([6.5e6, 7.5e6])
    s21 = np.array([0.1 + 0j, 0.1j])
    on = build_band_grid(freq, (BAND,))
    magnitude = np.abs(interpolate(freq, s21, on.freq_hz))
    got = compute_band_metric(on.views[0], on.freq_hz, magnitude, "largest")
    # By hand: at 7.0 MHz half way, |0.05+0.05j|; at 7.3 MHz |0.02+0.08j|; centre 7.15: |0.035+0.065j|.
    assert got["worst"] == pytest.approx(abs(0.02 + 0.08j))
    assert got["worst_hz"] == 7.3e6
    assert got["centre"] == pytest.approx(abs(0.035 + 0.065j))
    assert got["best"] == pytest.approx(abs(0.05 + 0.05j))


def test_partial_band_says_what_part_and_is_not_judged():
    on = build_band_grid(np.array([5e6, 7.1e6]), (BAND,))
    view = on.views[0]
    assert (view.covered_start_hz, view.covered_stop_hz, view.centre_index) == (7.0e6, 7.1e6, None)
    values = np.full(on.freq_hz.size, 1.0)
    assert judge_band(view, values, "largest", 2.0) is None
    assert judge_covered_part(view, values, "largest", 2.0) is True
    assert compute_band_metric(view, on.freq_hz, values, "largest")["centre"] is None


def test_uncovered_band_has_no_figures():
    on = build_band_grid(np.array([1e6, 2e6]), (BAND,))
    empty = {"worst": None, "worst_hz": None, "centre": None, "best": None}
    assert compute_band_metric(on.views[0], on.freq_hz, np.ones(on.freq_hz.size), "smallest") == empty
    assert judge_band(on.views[0], np.ones(on.freq_hz.size), "smallest", 0.0) is None


def test_worst_by_direction_and_limits_inclusive():
    on = build_band_grid(np.array([7.0e6, 7.15e6, 7.3e6]), (BAND,))
    view, values = on.views[0], np.array([1.0, -3.0, 2.0])
    assert compute_band_metric(view, on.freq_hz, values, "smallest")["worst"] == -3.0
    assert compute_band_metric(view, on.freq_hz, values, "largest")["worst"] == 2.0
    by_size = compute_band_metric(view, on.freq_hz, values, "largest_magnitude")
    assert (by_size["worst"], by_size["best"], by_size["worst_hz"]) == (-3.0, 1.0, 7.15e6)
    assert judge_band(view, values, "largest", 2.0) is True
    assert judge_band(view, values, "largest_magnitude", 2.9) is False
    assert judge_band(view, values, "smallest", -3.0) is True


def test_undefined_and_infinite_points():
    on = build_band_grid(np.array([7.0e6, 7.15e6, 7.3e6]), (BAND,))
    view = on.views[0]
    gap, endless = np.array([1.0, np.nan, 2.0]), np.array([1.0, np.inf, 2.0])
    assert compute_band_metric(view, on.freq_hz, gap, "largest")["worst"] == 2.0
    assert compute_band_metric(view, on.freq_hz, gap, "largest", strict=True)["worst"] is None
    assert judge_band(view, gap, "largest", 5.0, strict=True) is None
    assert compute_band_metric(view, on.freq_hz, endless, "largest")["worst"] is None
    assert compute_band_metric(view, on.freq_hz, endless, "largest")["worst_hz"] == 7.15e6
    assert judge_band(view, endless, "largest", 5.0) is False
    assert judge_band(view, np.full(3, np.nan), "largest", 5.0) is None


def test_measured_points_come_back_unchanged():
    freq = np.array([1e6, 2e6, 4e6])
    values = np.array([1 + 1j, 3 - 2j, 0.1j])
    wider = np.array([1e6, 1.5e6, 2e6, 3e6, 4e6])
    got = interpolate(freq, values, wider)
    assert (got[[0, 2, 4]] == values).all()
    assert got[1] == pytest.approx(2 - 0.5j)


def test_nothing_is_extrapolated():
    with pytest.raises(ValueError, match="not within"):
        interpolate(np.array([1e6, 2e6]), np.ones(2), np.array([0.5e6]))


def test_cutting_a_sweep_interpolates_its_new_ends():
    s = np.zeros((3, 2, 2), complex)
    s[:, 1, 0] = [0, 1, 3]
    got = cut_sweep(benches.two_port([1e6, 2e6, 4e6], s), 1.5e6, 3e6)
    assert got.freq_hz.tolist() == [1.5e6, 2e6, 3e6]
    assert got.s[:, 1, 0] == pytest.approx([0.5, 1, 2])


@given(
    st.lists(st.floats(1e5, 6e7), min_size=2, max_size=30, unique=True),
    st.floats(1e5, 5e7),
    st.floats(1e3, 1e7),
    st.integers(0, 2**31),
)
def test_worst_of_a_band_is_the_worst_of_the_interpolated_curve(freq, start, width, seed):
    """Densely resampling the same chords finds nothing worse: the largest |S| lies at a node or an edge."""
    freq_hz = np.sort(np.array(freq))
    rng = np.random.default_rng(seed)
    s21 = rng.normal(size=freq_hz.size) + 1j * rng.normal(size=freq_hz.size)
    band = Band("x", start, start + width)
    on = build_band_grid(freq_hz, (band,))
    if on.views[0].coverage == "none":
        return
    got = compute_band_metric(
        on.views[0], on.freq_hz, np.abs(interpolate(freq_hz, s21, on.freq_hz)), "largest"
    )["worst"]
    low, high = max(start, freq_hz[0]), min(start + width, freq_hz[-1])
    dense = np.linspace(low, high, 400)
    real, imag = np.interp(dense, freq_hz, s21.real), np.interp(dense, freq_hz, s21.imag)
    assert np.hypot(real, imag).max() <= got * (1 + 1e-9)


@given(st.integers(2, 60), st.floats(1.01, 20))
def test_coverage_does_not_depend_on_the_unit(points, scale):
    freq_hz = np.linspace(1e6, 8e6, points)
    scaled = Band("x", BAND.start_hz * scale, BAND.stop_hz * scale)
    one = build_band_grid(freq_hz, (BAND,)).views[0]
    other = build_band_grid(freq_hz * scale, (scaled,)).views[0]
    assert (one.coverage, one.inside) == (other.coverage, other.inside)


def test_sweep_on_other_frequencies_keeps_everything_else():
    sweep = benches.one_way([1e6, 2e6], np.ones((2, 2, 2)))
    got = resample_sweep(sweep, np.array([1.5e6]))
    assert got.measured.tolist() == sweep.measured.tolist() and got.points == 1


@pytest.mark.parametrize("worst", ["smallest", "largest", "largest_magnitude"])
@pytest.mark.parametrize("strict", [False, True])
def test_many_rows_at_once_are_each_found_as_by_hand(worst, strict):
    # the definition, written out point by point; a third of the values is unknown, some are endless
    rng = np.random.default_rng(4)
    on = build_band_grid(benches.linear_hz(59), benches.BANDS)
    values = rng.normal(size=(2, 30, on.freq_hz.size))
    values[rng.random(values.shape) < 0.3] = np.nan
    values[rng.random(values.shape) < 0.1] = np.inf
    values[rng.random(values.shape) < 0.1] = -np.inf
    values[0, 0] = np.nan
    bad = {"smallest": lambda v: -v, "largest": lambda v: v, "largest_magnitude": abs}[worst]
    for view in on.views:
        found = compute_band_metrics(view, on.freq_hz, values, worst, strict=strict)
        rows = zip(values.reshape(60, -1), found.as_dicts(), found.keep_to(worst, 0.5), strict=True)
        for row, shown, meets in rows:
            inside = row[view.inside].tolist()
            defined = [(k, value) for k, value in enumerate(inside) if value == value]
            hidden = not defined or (strict and len(defined) < len(inside))
            at, extreme = max(defined, key=lambda pair: (bad(pair[1]), -pair[0]), default=(0, np.nan))
            best = min((value for _, value in defined), key=bad, default=np.nan)
            limit = -0.5 if worst == "smallest" else 0.5
            assert meets is (None if hidden else bad(extreme) <= limit)
            assert shown["worst"] == (extreme if not hidden and np.isfinite(extreme) else None)
            assert shown["worst_hz"] == (None if hidden else on.freq_hz[view.inside][at])
            assert shown["best"] == (best if np.isfinite(best) else None)
