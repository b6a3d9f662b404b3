"""From a stored match test of an unun to the cause of its SWR: the real path from the file to comparison."""

from __future__ import annotations

import numpy as np
import pytest
from django.test import Client

from measurements.models import Member
from measurements.selectors.tests import comparison
from tests import factories
from tests.rf.diagnosis import invented_ratio_changes
from tests.rf.ferrites import invented_ratio_devices as invented

RECIPE = {
    "purpose": "unun",
    "principle": "voltage",
    "ratio": "49:1",
    "turns": 21,
    "style": "single",
    "mix": "43",
    "conductor": "enamelled copper 1.0 mm",
}


def match_s1p(near: int, far: int = 21, seed: int = 4) -> bytes:
    rng = np.random.default_rng(seed)
    device = invented.draw_separate_windings(rng, "43", (61.0, 35.55, 12.7), 1, near, far, 1.1)
    sweep = invented_ratio_changes.sweep_device(device, 2450.0, 2450.0, rng, with_loss=False)
    rows = [f"{f:.0f} {s.real:.6f} {s.imag:.6f}" for f, s in zip(sweep.freq_hz, sweep.s11, strict=True)]
    return "\n".join(["# HZ S RI R 50", *rows, ""]).encode()


def flat_s1p() -> bytes:
    """A perfect match: 50 ohm at every frequency."""
    rows = [f"{f:.0f} 0.001 0" for f in invented_ratio_changes.FREQ_HZ]
    return "\n".join(["# HZ S RI R 50", *rows, ""]).encode()


def record_match(member, data: bytes, **recipe) -> str:
    key = factories.device(member, factories.design(member, **(RECIPE | recipe)))
    return factories.record(
        member, key, data, name="match.s1p", kind="load_match", ratio="49:1", load_ohm="2450"
    )


def test_2_to_21_in_place_of_3_to_21_is_named_with_its_figures(member, reference_data):
    row = comparison.compare_test(member, record_match(member, match_s1p(2)))
    found = row.ratio_diagnosis
    assert found is not None
    (cause,) = found["causes"]
    assert cause["code"] == "turns_ratio" and "2:21 turns: count both windings" in cause["message"]
    assert cause["share"] >= 0.8 and cause["own_swr"] > cause["usual_swr"]
    assert found["loss_test"] is None and cause["own_loss_db"] is None


@pytest.mark.parametrize(
    "changes", [{"turns": 10}, {"principle": "current", "style": "coax", "ratio": "4:1"}]
)
def test_a_recipe_that_the_model_does_not_reach_has_no_diagnosis(member, reference_data, changes):
    """Ten turns of a single wire give no 49:1; a current balun is another circuit."""
    row = comparison.compare_test(member, record_match(member, match_s1p(2), **changes))
    assert row.ratio_diagnosis is None


def test_a_match_that_holds_is_not_asked_about(member, reference_data):
    row = comparison.compare_test(member, record_match(member, flat_s1p()))
    assert row.ratio_diagnosis is None


def test_the_page_shows_it(member, reference_data):
    key = record_match(member, match_s1p(2))
    reader = Client()
    reader.force_login(Member.objects.get(pk=member.member_id))
    page = reader.get(f"/tests/{key}/").content.decode()
    assert "Why does it fall short?" in page and "2:21 turns: count both windings" in page
    assert "A loss test of the same device would tell more apart" in page
