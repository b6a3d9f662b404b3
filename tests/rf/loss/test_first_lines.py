"""A pair taken to be alike says so first, and nobody is asked to save an S11 that the files hold."""

from __future__ import annotations

from dataclasses import replace

import numpy as np
import pytest

from measurements.pages.tests import presenters
from measurements.rf.analysis import analyse
from measurements.rf.request import LossCurve
from tests.rf.method_requests import loss_request
from tests.rf.transformer_simulation import BANDS, FREQ_HZ, ONE_WAY, ended, good, pair, swept

DESIGN = good(4)
PAIR = swept(pair(DESIGN, DESIGN))
WITHOUT_S11 = swept(pair(DESIGN, DESIGN), unmeasured=(*ONE_WAY, (0, 0)))
WITHOUT_PHASE = replace(PAIR, magnitude_only=True, s=np.abs(PAIR.s).astype(complex))
FAR_LOAD = swept(ended(DESIGN, 200.0))
PARTNER = LossCurve(FREQ_HZ, np.full(FREQ_HZ.size, 0.05), "stored")


def result_of(method, **given):
    return analyse(loss_request(method, 4, bands=BANDS, calibrated=True, **given)).result


@pytest.mark.parametrize(
    "given",
    [
        {"sweep": PAIR},
        {"sweep": PAIR, "far_load": FAR_LOAD, "load_ohm": 200.0},
        {"sweep": WITHOUT_S11},
        {"sweep": WITHOUT_PHASE},
    ],
    ids=["mirror", "closed", "halved", "without phase"],
)
def test_a_pair_filed_as_alike_says_so_first(given):
    result = result_of("back_to_back", **given)
    assert result["summary"]["assumption"].startswith("The two devices are taken to be alike")
    said = presenters.say_first_line(result, "Meets on all 9 bands")
    assert said == "Two devices taken to be alike: Meets on all 9 bands"


def test_pairs_say_so_first_where_the_mirror_takes_it():
    others = {f"pair_{name}": PAIR for name in ("ab", "ac", "bc")}
    assert result_of("pairs", **others)["summary"]["assumption"].startswith(
        "The two devices of a pair are taken"
    )


@pytest.mark.parametrize(
    ("method", "given"),
    [
        ("back_to_back", {"sweep": WITHOUT_PHASE}),
        ("known_partner", {"sweep": PAIR, "partner": PARTNER}),
        ("known_partner", {"sweep": WITHOUT_PHASE, "partner": PARTNER}),
        ("pairs", {f"pair_{name}": PAIR for name in ("ab", "ac", "bc")}),
        ("pairs", {f"pair_{name}": WITHOUT_PHASE for name in ("ab", "ac", "bc")}),
        ("direct", {"sweep": WITHOUT_PHASE}),
    ],
)
def test_nobody_is_asked_to_save_what_the_files_hold(method, given):
    result = result_of(method, **given)
    said = " ".join([result["summary"]["assumption"], *(flag["message"] for flag in result["flags"])])
    assert "S11 was not" not in said and "together with S21" not in said and "Without S11" not in said


@pytest.mark.parametrize("method", ["back_to_back", "direct"])
def test_where_s11_is_missing_it_is_asked_for(method):
    flags = {flag["code"]: flag["message"] for flag in result_of(method, sweep=WITHOUT_S11)["flags"]}
    assert "Save it together with S21" in flags["no_split"]
