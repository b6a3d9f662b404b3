"""Distance of every method from the truth, on readings simulated in scikit-rf (`transformer_simulation.py`).

Every S-parameter carries complex Gaussian noise of 0.002. The figure judged is what a result shows: the worst
loss in each band, against the worst loss of the noiseless device. `pytest -s` prints the measured table.

Of 4:1, 9:1 and 49:1 devices, good and poor, with leakage and winding capacitance split alike and one-sided.
"""

from __future__ import annotations

from dataclasses import replace
from itertools import combinations

import numpy as np
import pytest

from measurements.rf.loss import back_to_back, device_pairs, one_port, renormalised, series_resistor
from tests.rf.method_requests import loss_request
from tests.rf.transformer_simulation import (
    BANDS,
    FREQ_HZ,
    GOOD,
    MEDIUM,
    ONE_WAY,
    POOR,
    UNEVEN,
    Design,
    device,
    ended,
    pair,
    swept,
    true_loss_db,
    worst_in_bands,
)

DESIGNS = [
    pytest.param(replace(table[ratio], near=near, far=far), id=f"{ratio}:1-{quality}-near{near}-far{far}")
    for ratio in (4, 9, 49)
    for quality, table in (("good", GOOD), ("poor", POOR))
    for near, far in UNEVEN
]
BENCHES = 5  # noise realisations of each test


def show(name: str, design: Design, errors_db: np.ndarray, uncertainty_db: np.ndarray | None = None) -> None:
    """One line of the table: largest error in each band over the realisations, and the stated uncertainty."""
    inductance = f"{design.magnetising_h * 1e6:4.1f} uH"
    label = f"{name:<24}{design.ratio:>3}:1 {inductance} near {design.near:.1f} far {design.far:.1f}"
    row = " ".join(f"{value:6.3f}" for value in errors_db)
    print(f"\n{label} error dB {row}", end="")
    if uncertainty_db is not None:
        print(
            f"\n{'':<{len(label)}} stated   {' '.join(f'{value:6.3f}' for value in uncertainty_db)}", end=""
        )


def at_the_bench(curve_of, design: Design, seed: int) -> tuple[np.ndarray, np.ndarray, np.ndarray]:
    """(benches, bands): errors of the worst loss, stated uncertainties, and halved errors where there are."""
    rng = np.random.default_rng(seed)
    truth_db = worst_in_bands(true_loss_db(design))
    curves = [curve_of(rng) for _ in range(BENCHES)]
    errors = np.array([np.abs(worst_in_bands(curve.loss_db) - truth_db) for curve in curves])
    stated = np.array([worst_in_bands(curve.uncertainty_db) for curve in curves])
    halved = [curve.halved_db for curve in curves if curve.halved_db is not None]
    return errors, stated, np.array([worst_in_bands(one) - truth_db for one in halved])


@pytest.mark.parametrize("design", DESIGNS)
def test_one_port_within_five_hundredths_in_every_band(design):
    load = 50.0 * design.ratio
    ends = {"far_open": "open", "far_short": "short", "far_load": load}

    def curve_of(rng):
        sweeps = {role: swept(ended(design, end), rng) for role, end in ends.items()}
        return one_port.compute_loss(loss_request("one_port", design.ratio, **sweeps, load_ohm=load))

    errors, stated, _ = at_the_bench(curve_of, design, 1)
    show("one_port", design, errors.max(axis=0), stated.mean(axis=0))
    assert errors.max() < 0.05
    assert np.all(errors <= stated)


@pytest.mark.parametrize("design", DESIGNS)
def test_back_to_back_with_far_load_within_five_hundredths_in_every_band(design):
    load = 50.0 * design.ratio

    def curve_of(rng):
        both = swept(pair(design, design), rng, ONE_WAY)
        far_load = swept(ended(design, load), rng)
        return back_to_back.compute_loss(
            loss_request("back_to_back", design.ratio, sweep=both, far_load=far_load, load_ohm=load)
        )

    errors, stated, halved = at_the_bench(curve_of, design, 2)
    show("back_to_back + far_load", design, errors.max(axis=0), stated.mean(axis=0))
    show("  halved (not absolute)", design, halved.mean(axis=0))
    assert errors.max() < 0.05
    assert np.all(errors <= stated)


@pytest.mark.parametrize("design", DESIGNS)
def test_mirror_within_two_hundredths_where_alike_and_covered_otherwise(design):
    def curve_of(rng):
        both = swept(pair(design, design), rng, ONE_WAY)
        return back_to_back.compute_loss(loss_request("back_to_back", design.ratio, sweep=both))

    errors, stated, _ = at_the_bench(curve_of, design, 3)
    show("mirror alone", design, errors.max(axis=0), stated.mean(axis=0))
    assert np.all(errors <= stated)
    if (design.near, design.far) == (0.5, 0.5):
        assert errors.max() < 0.02


@pytest.mark.parametrize("design", DESIGNS)
def test_series_resistor_within_a_hundredth_rms_without_noise(design):
    rs = 50.0 * (design.ratio - 1)
    sweep = swept(device(design) ** MEDIUM.resistor(rs), unmeasured=ONE_WAY)
    curve = series_resistor.compute_loss(
        loss_request("series_resistor", design.ratio, sweep=sweep, series_ohm=rs)
    )
    error_db = curve.loss_db - true_loss_db(design)
    assert np.sqrt(np.mean(error_db**2)) < 0.01


@pytest.mark.parametrize("design", DESIGNS)
def test_renormalised_within_a_hundredth_rms_without_noise(design):
    curve = renormalised.compute_loss(loss_request("renormalised", design.ratio, sweep=swept(device(design))))
    error_db = curve.loss_db - true_loss_db(design)
    assert np.sqrt(np.mean(error_db**2)) < 0.01


def random_pair(rng: np.random.Generator) -> tuple[Design, Design]:
    """Two devices of one random design: values within 15 % of it, splits within a tenth of a random one."""
    ratio = int(rng.choice([4, 9, 49]))
    design = {
        "magnetising_h": np.exp(rng.uniform(*np.log([2.5e-6, 15e-6]))),
        "loss_ohm": np.exp(rng.uniform(*np.log([400, 3000]))),
        "leakage_h": np.exp(rng.uniform(*np.log([50e-9, 300e-9]))),
        "capacitance_f": np.exp(rng.uniform(*np.log([10e-12, 150e-12]))),
        "copper_ohm": rng.uniform(0.05, 0.4),
    }
    near, far = rng.uniform(0, 1, 2)

    def made() -> Design:
        values = {name: value * rng.uniform(0.85, 1.15) for name, value in design.items()}
        shares = np.clip([near + rng.uniform(-0.1, 0.1), far + rng.uniform(-0.1, 0.1)], 0, 1)
        return Design(ratio, **values, near=shares[0], far=shares[1])

    return made(), made()


def test_truth_lies_within_the_stated_uncertainty_of_random_pairs():
    # the truth of a pair is the mean of its two devices; all nine bands must be covered for a pair to count
    rng = np.random.default_rng(20)
    covered, each_covered, errors, stated, halved = 0, 0, [], [], []
    for _ in range(200):
        one, other = random_pair(rng)
        truths = [worst_in_bands(true_loss_db(design)) for design in (one, other)]
        curve = back_to_back.compute_loss(
            loss_request("back_to_back", one.ratio, sweep=swept(pair(one, other), rng, ONE_WAY))
        )
        found, bound = worst_in_bands(curve.loss_db), worst_in_bands(curve.uncertainty_db)
        mean = np.mean(truths, axis=0)
        covered += bool(np.all(np.abs(found - mean) <= bound))
        each_covered += bool(all(np.all(np.abs(found - truth) <= bound) for truth in truths))
        errors.append(np.abs(found - mean))
        stated.append(bound)
        halved.append(np.abs(worst_in_bands(curve.halved_db) - mean))
    print(f"\nmirror, 200 random pairs: mean of both covered {covered}, both devices covered {each_covered}")
    for name, values in (("error", errors), ("stated", stated), ("halved error", halved)):
        print(f"  median {name:<13}", " ".join(f"{value:6.3f}" for value in np.median(values, axis=0)))
    print("  bands               ", " ".join(f"{band.name:>6}" for band in BANDS))
    assert covered >= 180
    assert np.median(stated) < 0.15  # and the statement still says something
    assert np.median(errors) < np.median(halved)


def graded(ratio: int, share: float) -> Design:
    """Between the good device (share 0) and the poor one (1), geometrically."""
    names = ("magnetising_h", "loss_ohm", "leakage_h", "capacitance_f", "copper_ohm")
    first, last = GOOD[ratio], POOR[ratio]
    return Design(ratio, *[getattr(first, n) ** (1 - share) * getattr(last, n) ** share for n in names])


@pytest.mark.parametrize("ratio", [4, 9, 49])
@pytest.mark.parametrize("unmeasured", [ONE_WAY, ()], ids=["one-way", "full"])
def test_five_devices_in_pairs_within_a_tenth_each(ratio, unmeasured):
    # five devices from good to nearly poor, ten pairs
    rng = np.random.default_rng(4)
    designs = dict(zip("abcde", [graded(ratio, share) for share in (0, 0.2, 0.4, 0.6, 0.8)], strict=True))
    sweeps = {
        f"pair_{x}{y}": swept(pair(designs[x], designs[y]), rng, unmeasured)
        for x, y in combinations("abcde", 2)
    }
    curve = device_pairs.compute_loss(loss_request("pairs", ratio, **sweeps))
    assert list(curve.devices) == list("abcde")
    for label, design in designs.items():
        found = curve.devices[label]
        error_db = np.abs(worst_in_bands(found.loss_db) - worst_in_bands(true_loss_db(design)))
        stated_db = worst_in_bands(found.uncertainty_db)
        show(f"pairs, device {label}", design, error_db, stated_db)
        assert error_db.max() < 0.1
        assert np.all(error_db <= stated_db)
    assert curve.residual_db < 0.05


def test_pairs_cover_devices_that_have_little_in_common():
    # good and poor, one-sided and even in one set: the mirror's likeness does not hold, the statement must
    rng = np.random.default_rng(5)
    designs = {
        "a": GOOD[4],
        "b": POOR[4],
        "c": replace(GOOD[4], near=0.0),
        "d": replace(POOR[4], near=1.0, far=1.0),
        "e": replace(GOOD[4], far=1.0),
    }
    sweeps = {
        f"pair_{x}{y}": swept(pair(designs[x], designs[y]), rng, ONE_WAY) for x, y in combinations(designs, 2)
    }
    curve = device_pairs.compute_loss(loss_request("pairs", 4, **sweeps))
    for label, design in designs.items():
        found = curve.devices[label]
        error_db = np.abs(worst_in_bands(found.loss_db) - worst_in_bands(true_loss_db(design)))
        show(f"pairs of unlike, {label}", design, error_db, worst_in_bands(found.uncertainty_db))
        assert np.all(error_db <= worst_in_bands(found.uncertainty_db))


def test_the_grid_is_the_one_that_was_asked_for():
    assert (len(FREQ_HZ), FREQ_HZ[0], FREQ_HZ[-1]) == (401, 1e6, 30e6)
