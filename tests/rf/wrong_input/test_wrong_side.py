"""Driven from the wrong side, in every kind that has a side: left out, and honest devices stay in.

Baluns are the three-ports of `tests.rf.certainty` (nodal admittances); analysers of its error boxes.
"""

from __future__ import annotations

from fractions import Fraction

import numpy as np
import pytest

from measurements.rf.analysis import analyse
from measurements.rf.request import Request
from tests.rf.certainty.simulated_analysers import CLASSES, Analyser
from tests.rf.certainty.simulated_baluns import draw_balun_s, end_port
from tests.rf.certainty.simulated_devices import OMEGA
from tests.rf.certainty.simulated_tests import BANDS

A_FIRST, TWICE, HONEST = (1, 0, 2), (0, 1, 1), (0, 1, 2)  # which terminal is on port 1, 2 and 3


def draw_floating_s(rng: np.random.Generator) -> np.ndarray:
    """(F, 3, 3) S of a balun whose far winding has no centre on the shield, matched, with delay and loss.

    Closed form: 100 ohm between the terminals match port 1, and nothing of the common mode passes.
    """
    r = np.sqrt(0.5)
    ideal = np.array([[0, r, -r], [r, 0.5, 0.5], [-r, 0.5, 0.5]], complex)
    loss = 10 ** (-rng.uniform(0.05, 0.5) / 20)
    return ideal * (loss * np.exp(-1j * OMEGA * rng.uniform(0.1e-9, 1.5e-9)))[:, None, None]


def sweep_balance(kind: str, seed: int, order: tuple[int, int, int], draw=draw_balun_s) -> dict:
    rng = np.random.default_rng([seed, 44])
    bench = Analyser(rng, CLASSES[kind], 0.05, 0.001)
    s = draw(rng)
    matched = np.zeros(len(s), complex)
    sweeps = {}
    for name, far in (("sweep_12", order[1]), ("sweep_13", order[2])):
        waiting = ({0, 1, 2} - {order[0], far}).pop()
        ends = np.ix_(range(len(s)), (order[0], far), (order[0], far))
        sweeps[name] = bench.transmit(end_port(s, waiting, matched)[ends])
    request = Request("balance", None, Fraction(1), sweeps, bands=BANDS, calibrated=True)
    return analyse(request).result


def find_left_out(result: dict) -> set[str]:
    return {flag["code"] for flag in result["flags"] if flag["severity"] == "exclude"}


@pytest.mark.parametrize("kind", CLASSES)
@pytest.mark.parametrize(
    ("order", "draw"),
    [(A_FIRST, draw_floating_s), (TWICE, draw_floating_s), (TWICE, draw_balun_s)],
    ids=["from a balanced terminal", "one terminal twice", "one half twice"],
)
def test_a_balance_test_of_the_wrong_terminals_is_left_out(kind, order, draw):
    """From a terminal whose half has a winding of its own to the shield nothing shows: equal windings."""
    for seed in range(8):
        result = sweep_balance(kind, seed, order, draw)
        assert "halves_in_phase" in find_left_out(result)
        assert {band["decision"] for band in result["bands"]} == {"not_judged"}


@pytest.mark.parametrize("kind", CLASSES)
def test_honest_balance_tests_stay_in(kind):
    """Under 1 % may be left out: none of 110, which leaves a true share above 3 % a chance of 1 in 28."""
    for draw in (draw_balun_s, draw_floating_s):
        assert [seed for seed in range(110) if find_left_out(sweep_balance(kind, seed, HONEST, draw))] == []
