"""Every wrong input is left out, with a sentence that says what to check; nothing else is wrong with them.

Cases are simulated in `wrong_tests` (independent of the code under test), on three classes of analyser.
"""

from __future__ import annotations

import numpy as np
import pytest

from measurements.rf.analysis import analyse
from measurements.rf.flags import FLAG_CATALOGUE
from measurements.rf.flags_of_wrong_input import WRONG_INPUT_SENTENCES
from measurements.rf.wrong_input.detectors import DETECTORS
from tests.rf import transformer_simulation as transformers
from tests.rf.wrong_input import bench_models as models
from tests.rf.wrong_input.analyser_model import ANALYSERS
from tests.rf.wrong_input.wrong_tests import CHOKES, TRANSFORMERS, common_mode, draw_bench

DRAWS = 3


def find_left_out(request) -> dict[str, str]:
    flags = analyse(request).result["flags"]
    return {flag["code"]: flag["message"] for flag in flags if flag["severity"] == "exclude"}


def draw(analyser: str, seed: int):
    transformers.device.cache_clear()
    return draw_bench(ANALYSERS[analyser], np.random.default_rng([seed, 15]))


@pytest.mark.parametrize("analyser", sorted(ANALYSERS))
@pytest.mark.parametrize("case", sorted(CHOKES))
def test_wrong_choke_sweeps_are_left_out(case, analyser):
    code, make = CHOKES[case]
    for seed in range(DRAWS):
        found = find_left_out(make(draw(analyser, seed)))
        assert code in found, (seed, found)
        assert "heck" in found[code] or "alibrate" in found[code] or "Choose" in found[code]


@pytest.mark.parametrize("analyser", sorted(ANALYSERS))
@pytest.mark.parametrize("ratio", [4, 9, 49])
@pytest.mark.parametrize("case", sorted(TRANSFORMERS))
def test_wrong_transformer_sweeps_are_left_out(case, ratio, analyser):
    code, make = TRANSFORMERS[case]
    for seed in range(DRAWS):
        found = find_left_out(make(draw(analyser, seed), ratio))
        assert code in found, (seed, found)


@pytest.mark.parametrize("analyser", sorted(ANALYSERS))
def test_a_lead_of_5_cm_stays_in(analyser):
    for seed in range(DRAWS):
        bench = draw(analyser, seed)
        request = common_mode(sweep=bench.chain(models.cable(0.05), bench.device()))
        assert find_left_out(request) == {}


def test_the_exchange_that_would_fit_is_named():
    _, make = TRANSFORMERS["far open and load exchanged"]
    assert (
        "far_open and far_load are exchanged"
        in find_left_out(make(draw("two paths, 40 dB", 1), 4))["far_sides_mixed"]
    )


def test_the_table_of_detectors_is_total():
    """Every flag on wrong input has a detector, and every detector's flag a sentence and a severity."""
    raised = {code for detector in DETECTORS for code in detector.flags}
    assert raised == set(WRONG_INPUT_SENTENCES)
    assert all(FLAG_CATALOGUE[code].severity == "exclude" for code in raised)
