"""How often a verdict on loss or SWR is wrong, counted over designs whose truth is known.

The builds are drawn here, apart from the code under test, and from another shape than its model: losses and
SWR - 1 are log-normal, so skewed and never below zero. The bounds are those that the trade page (section 7)
states for rejection: a design of which half of the builds fail is called meeting in at most 5 % of cases at
three persons and 2 % at five, averaged over designs; one of which 99 % pass is called meeting in 94 % or
more.
"""

from __future__ import annotations

from functools import cache

import numpy as np
import pytest

from measurements.verdict import chance, decision_rule
from measurements.verdict.metric import LOSS, SWR
from measurements.verdict.usual_spread import estimate_usual_spread

DESIGNS = 1500
LIMITS = {"loss_db": (LOSS, 0.5, 0.0), "swr": (SWR, 1.5, 1.0)}  # metric, house limit, least value
RELATIVE_SPREAD = 0.18  # of builds of one design, of ln (figure - least): invented; designs differ about it
NORMAL_80, NORMAL_99 = 0.8416, 2.326
GROUP_DESIGNS = 30  # of each share, from which a group learns how far its builds usually spread


def draw_designs(limit: float, least: float, persons: int, share: float, seed: int) -> np.ndarray:
    """(DESIGNS, persons) figures of designs of which `share` of the builds keep to the limit."""
    rng = np.random.default_rng(seed)
    spread = RELATIVE_SPREAD * np.exp(0.45 * rng.standard_normal((DESIGNS, 1)))
    quantile = {0.5: 0.0, 0.8: NORMAL_80, 0.99: NORMAL_99}[share]
    middle = np.log(limit - least) - quantile * spread
    return least + np.exp(middle + spread * rng.standard_normal((DESIGNS, persons)))


@cache
def learn_usual_spread(name: str) -> float:
    """What a release learns of designs of which half, 80 and 99 in 100 builds keep to the limit."""
    metric, limit, least = LIMITS[name]
    designs = [
        [(metric.convert_to_units(figures), np.ones(figures.size))]
        for share in (0.5, 0.8, 0.99)
        for figures in draw_designs(limit, least, 5, share, seed=7)[:GROUP_DESIGNS]
    ]
    found = estimate_usual_spread(designs)
    assert found is not None
    return found


def count_meeting(name: str, figures: np.ndarray) -> float:
    """The share of designs that are called meeting."""
    metric, limit, _ = LIMITS[name]
    designs, persons = figures.shape
    rows = chance.Figures(
        value=metric.convert_to_units(figures.ravel()),
        design=np.repeat(np.arange(designs), persons),
        weight=np.ones(figures.size),
        persons=np.full(designs, persons),
        one_jig=np.zeros(designs, dtype=bool),
    )
    chances = chance.compute_chances(rows, float(metric.convert_to_units(limit)), learn_usual_spread(name))
    codes = decision_rule.compute_verdict_codes(chances, rows.persons)
    return float(np.mean(codes == decision_rule.MEETS))


@pytest.mark.parametrize("name", LIMITS)
@pytest.mark.parametrize(("persons", "most"), [(3, 0.05), (5, 0.02), (10, 0.02)])
def test_a_design_of_which_half_fails_is_seldom_called_meeting(name, persons, most):
    _, limit, least = LIMITS[name]
    wrong = count_meeting(name, draw_designs(limit, least, persons, 0.5, seed=11 + persons))
    sampling = 2 * np.sqrt(most * (1 - most) / DESIGNS)
    assert wrong <= most + sampling


@pytest.mark.parametrize("name", LIMITS)
@pytest.mark.parametrize("persons", [3, 5, 10])
def test_a_design_of_which_99_in_100_pass_is_called_meeting(name, persons):
    _, limit, least = LIMITS[name]
    right = count_meeting(name, draw_designs(limit, least, persons, 0.99, seed=31 + persons))
    assert right >= 0.94 - 2 * np.sqrt(0.94 * 0.06 / DESIGNS)
