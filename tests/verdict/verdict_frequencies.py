"""Counts how often a verdict is wrong, and how far stated chances are from true ones, in simulations."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measurements.verdict import decision_rule
from measurements.verdict.band_verdict import compute_worst_over_bands
from measurements.verdict.contributor_counts import weigh_votes
from measurements.verdict.design_verdicts import DesignVerdicts, DesignVotes, judge_designs
from measurements.verdict.usual_spread import estimate_usual_spread
from tests.verdict.simulated_builds import BENCHMARK_DB, Scenario, SimulatedDesigns, simulate_designs

LEAST_IN_TENTH = 60  # stated chances in a tenth before their mean is compared: 0.06 of error


@dataclass(frozen=True)
class Frequencies:
    """Shares of designs, 0..1. worst_miss: how far mean stated and mean true chance lie apart in a tenth."""

    meets: float
    falls_short: float
    worst_miss: float


def count_verdicts(
    scenario: Scenario, designs: int, rng: np.random.Generator, usual_spread_db: float | None
) -> Frequencies:
    """Simulate and judge `designs` designs of a scenario."""
    drawn = simulate_designs(scenario, designs, rng)
    judged = judge_simulated(drawn, usual_spread_db, one_jig=scenario.jig_offset_db != 0)
    return Frequencies(
        meets=float((judged.code == decision_rule.MEETS).mean()),
        falls_short=float((judged.code == decision_rule.FALLS_SHORT).mean()),
        worst_miss=_find_worst_miss(judged.chance, drawn.share),
    )


def judge_simulated(
    drawn: SimulatedDesigns, usual_spread_db: float | None, *, one_jig: bool
) -> DesignVerdicts:
    """Judge each device by its least margin, as a joint question does."""
    designs, devices, bands = drawn.figures_db.shape
    worst = compute_worst_over_bands(drawn.figures_db.reshape(-1, bands))
    design = np.repeat(np.arange(designs), devices)
    person = np.tile(drawn.person, designs)
    people = np.full(designs, np.unique(drawn.person).size)
    weights = weigh_votes(design, person, np.ones(worst.size, dtype=bool), people)
    votes = DesignVotes(worst, design, weights, np.full(designs, one_jig))
    return judge_designs(votes, BENCHMARK_DB, usual_spread=usual_spread_db)


def learn_spread(designs: int, persons: int, rng: np.random.Generator, bad: float = 0.0) -> float | None:
    """Learn the usual spread of a small simulated group."""
    drawn = simulate_designs(Scenario(persons, share=None, bad=bad), designs, rng)
    return estimate_usual_spread([(each[:, 0], np.ones(persons))] for each in drawn.figures_db)


def _find_worst_miss(stated: NDArray[np.float64], true: NDArray[np.float64]) -> float:
    tenth = np.minimum((stated * 10).astype(int), 9)
    misses = [
        abs(float(stated[tenth == k].mean() - true[tenth == k].mean()))
        for k in range(10)
        if (tenth == k).sum() >= LEAST_IN_TENTH
    ]
    return max(misses, default=float("nan"))  # of too few designs nothing is found, which meets no bound
