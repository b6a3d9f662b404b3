"""Honest sweeps stay in: the share that is left out on analysers with 0.05 dB of drift.

Devices, jigs and analysers are drawn at random and written apart from the code under test. A usual run draws
few; `deploy/check --long` draws enough to tell 1 % of every cell.
"""

from __future__ import annotations

import collections

import numpy as np
import pytest

from measurements.rf.analysis import analyse
from tests.rf import transformer_simulation as transformers
from tests.rf.wrong_input.analyser_model import ANALYSERS, Calibrated
from tests.rf.wrong_input.honest_tests import CELLS, draw_honest

MOST = 0.01  # trade.md 6 and the issue: under 1 % left out


def list_left_out(cell, analyser, draws: int) -> collections.Counter[str]:
    """How often each excluding flag was raised; "any" counts tests."""
    found: collections.Counter[str] = collections.Counter()
    for draw in range(draws):
        transformers.device.cache_clear()
        rng = np.random.default_rng([draw, cell[2], len(cell[1])])
        result = analyse(draw_honest(cell, Calibrated(analyser, rng), rng)).result
        codes = {flag["code"] for flag in result["flags"] if flag["severity"] == "exclude"}
        found.update([*codes, *(["any"] if codes else [])])
    return found


def runs_on(cell, analyser) -> bool:
    return cell[1] != "renormalised" or analyser.paths == 2


@pytest.mark.parametrize("name", sorted(ANALYSERS))
@pytest.mark.parametrize("cell", CELLS, ids=lambda cell: " ".join(map(str, cell)))
def test_a_few_honest_tests_stay_in(cell, name):
    if runs_on(cell, ANALYSERS[name]):
        assert list_left_out(cell, ANALYSERS[name], 3) == {}


@pytest.mark.long
@pytest.mark.parametrize("name", sorted(ANALYSERS))
def test_under_one_percent_of_honest_tests_is_left_out(name):
    draws, total, left_out = 60, 0, collections.Counter()
    for cell in CELLS:
        if runs_on(cell, ANALYSERS[name]):
            total += draws
            left_out += list_left_out(cell, ANALYSERS[name], draws)
    print(f"\n{name}: {left_out['any']} of {total} honest tests left out: {dict(left_out)}")
    assert left_out["any"] <= MOST * total
