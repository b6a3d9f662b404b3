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
from tests.rf.wrong_input.wrong_tests import (
    CABLE_BEHIND,
    CHOKES,
    OTHERS,
    TRANSFORMERS,
    common_mode,
    draw_bench,
    mix_ends,
)

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
@pytest.mark.parametrize("case", sorted(CABLE_BEHIND))
def test_cable_behind_port_2_is_found_nearly_always(case, analyser):
    least, make = CABLE_BEHIND[case]
    draws = 40
    found = [find_left_out(make(draw(analyser, seed))) for seed in range(draws)]
    named = [each for each in found if {"cable_left_in", "cable_behind_port2"} & set(each)]
    assert len(named) >= least * draws
    metres = [each["cable_behind_port2"].split(" m of cable")[0] for each in named
              if "cable_behind_port2" in each]  # fmt: skip
    told = [float(each.rsplit(" ", 1)[1]) for each in metres]
    assert not told or abs(np.median(told) / float(case[0]) - 1) < 0.3


def test_a_through_that_holds_the_cable_takes_it_out():
    """Calibrated elsewhere, and the jig's through swept with the same cable: S21 is right again."""
    for seed in range(6):
        bench = draw("one path, 26 dB", seed)
        behind = models.cable(2, 0.1)
        request = common_mode(sweep=bench.chain(bench.device(), behind), jig_through=bench.chain(behind))
        assert "cable_behind_port2" not in find_left_out(request)


@pytest.mark.parametrize("case", sorted(OTHERS))
def test_sweeps_of_a_device_of_another_ratio_are_found(case):
    least, make = OTHERS[case]
    found = [
        bool(find_left_out(make(draw(analyser, seed), ratio)))
        for analyser in sorted(ANALYSERS)
        for ratio in (4, 9, 49)
        for seed in range(6)
    ]
    print(f"{case}: {sum(found)} of {len(found)}")
    assert np.mean(found) >= least


@pytest.mark.parametrize(("foreign", "least"), [(("far_open",), 0.4), (("far_short",), 0.2)])
def test_a_far_side_of_another_ratio_that_fits_gives_hardly_a_wrong_verdict(foreign, least):
    """Where the near sides of both are alike nothing shows, and little is wrong: the bands are counted."""
    found, wrong, bands = 0, 0, 0
    cases = [(name, ratio, seed) for name in sorted(ANALYSERS) for ratio in (4, 9, 49) for seed in range(6)]
    for analyser, ratio, seed in cases:
        request, own = mix_ends(draw(analyser, seed), ratio, foreign)
        result = analyse(request).result
        if any(flag["severity"] == "exclude" and flag["band"] is None for flag in result["flags"]):
            found += 1
            continue
        truth_db = transformers.true_loss_db(own)
        for band, row in zip(transformers.BANDS, result["bands"], strict=True):
            within = (band.start_hz <= transformers.FREQ_HZ) & (band.stop_hz >= transformers.FREQ_HZ)
            right = "meets" if truth_db[within].max() <= 0.5 else "falls_short"
            bands += 1
            wrong += row["decision"] in ("meets", "falls_short") and row["decision"] != right
    print(f"{foreign}: {found} of {len(cases)} found; {wrong} of {bands} bands wrong")
    assert found >= least * len(cases)
    assert wrong <= 0.02 * bands


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
