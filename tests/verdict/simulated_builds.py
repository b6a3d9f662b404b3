"""Simulated designs whose true share of good builds is known; written apart from the code under test.

On purpose the model is not the estimator's in every respect. Spreads of designs are log-normal about a
usual 2 dB. The devices of one person are alike to a stated part. A bad build (a cracked core, a missed
turn) is one of 10 to 20 dB less, uniformly. Several bands of a device go together. One jig shifts all alike.
Shares are exact: the middle of each design is put where just that share of builds passes 20 dB.
"""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

BENCHMARK_DB = 20.0
USUAL_SPREAD_DB = 2.0
LN_SPREAD_DEVIATION = 0.45
BAD_LOW_DB, BAD_HIGH_DB = 10.0, 20.0
BAND_CORRELATION = 0.7
CHECK_BUILDS = 20_000  # draws that a joint share is set by in a small sample: 0.99 strays by 0.0007
MANY_CHECK_BUILDS = 1_000_000  # the same for a bound that a tenth of a percent decides


@dataclass(frozen=True)
class Scenario:
    """share: of builds that pass, None: any (middles uniform within 4 spreads of the benchmark).

    devices_each: devices of a person. alike: part of the variance that belongs to the person, 0..1.
    bad: share of bad builds; `share` counts them. spread_db: None draws one for each design.
    """

    persons: int
    share: float | None = 0.5
    devices_each: int = 1
    alike: float = 0.0
    bad: float = 0.0
    spread_db: float | None = None
    jig_offset_db: float = 0.0
    bands: int = 1
    usual_spread_db: float = USUAL_SPREAD_DB
    check_builds: int = CHECK_BUILDS


@dataclass(frozen=True)
class SimulatedDesigns:
    """figures_db (D, n, B) as measured; person (n,) of each device; share (D,) of builds that truly pass."""

    figures_db: NDArray[np.float64]
    person: NDArray[np.int64]
    share: NDArray[np.float64]


def simulate_designs(scenario: Scenario, designs: int, rng: np.random.Generator) -> SimulatedDesigns:
    """Draw `designs` designs with the devices of a scenario's persons."""
    spread = _draw_spreads(scenario, designs, rng)
    least = np.sort(_draw_bands(scenario.check_builds, scenario.bands, rng).min(axis=1))
    if scenario.share is None:
        middle = spread * rng.uniform(-4.0, 4.0, designs)
    else:
        middle = _find_middles(scenario.share, scenario.bad, spread, least)
    person = np.repeat(np.arange(scenario.persons), scenario.devices_each)
    noise = _draw_builds(scenario, designs, rng)[:, person] * np.sqrt(scenario.alike)
    own = _draw_bands(designs * person.size, scenario.bands, rng).reshape(designs, person.size, -1)
    noise = noise + own * np.sqrt(1 - scenario.alike)
    margin = middle[:, None, None] + spread[:, None, None] * noise
    bad = rng.random((designs, person.size)) < scenario.bad
    margin -= (bad * rng.uniform(BAD_LOW_DB, BAD_HIGH_DB, bad.shape))[:, :, None]
    share = _compute_shares(middle, spread, scenario.bad, least)
    return SimulatedDesigns(BENCHMARK_DB + margin + scenario.jig_offset_db, person, share)


def _draw_spreads(scenario: Scenario, designs: int, rng: np.random.Generator) -> NDArray[np.float64]:
    if scenario.spread_db is not None:
        return np.full(designs, scenario.spread_db)
    return scenario.usual_spread_db * np.exp(LN_SPREAD_DEVIATION * rng.standard_normal(designs))


def _draw_builds(scenario: Scenario, designs: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """(D, persons, B) what the builds of each person have in common, standard normal on each band."""
    drawn = _draw_bands(designs * scenario.persons, scenario.bands, rng)
    return drawn.reshape(designs, scenario.persons, scenario.bands)


def _draw_bands(count: int, bands: int, rng: np.random.Generator) -> NDArray[np.float64]:
    """(count, B) standard normal, neighbours on a device correlated."""
    common = rng.standard_normal((count, 1))
    own = rng.standard_normal((count, bands))
    return np.sqrt(BAND_CORRELATION) * common + np.sqrt(1 - BAND_CORRELATION) * own


def _compute_shares(
    middle_db: NDArray[np.float64], spread_db: NDArray[np.float64], bad: float, least: NDArray[np.float64]
) -> NDArray[np.float64]:
    """(D,) shares of builds whose least margin is not negative. least: sorted draws of it for spread 1."""
    lost_db = np.linspace(BAD_LOW_DB, BAD_HIGH_DB, 11)[:, None]
    good = _count_above(-middle_db / spread_db, least)
    return (1 - bad) * good + bad * _count_above((lost_db - middle_db) / spread_db, least).mean(axis=0)


def _count_above(bound: NDArray[np.float64], least: NDArray[np.float64]) -> NDArray[np.float64]:
    """The share of draws above each bound."""
    return 1.0 - np.searchsorted(least, bound) / least.size


def _find_middles(
    share: float, bad: float, spread: NDArray[np.float64], least: NDArray[np.float64]
) -> NDArray[np.float64]:
    """Where the middle of each design lies for `share` of its builds to pass, dB above the benchmark."""
    low, high = -8 * spread, 40 + 8 * spread
    for _ in range(22):  # halves some 80 dB to a hundred thousandth
        middle = (low + high) / 2
        enough = _compute_shares(middle, spread, bad, least) >= share
        low, high = np.where(enough, low, middle), np.where(enough, middle, high)
    return high
