"""Another benchmark than the group's is judged where it may be shown, and there as if all were judged."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.selectors.evidence.evidence_table import EvidenceTable

BANDS = ("80m", "40m")
DETAIL, LEAST = 10, 3
HIDDEN_OTHERWISE = ("code", "chance", "passing", "share", "share_low", "share_high")


def invent_table(seed: int) -> EvidenceTable:
    """Invent 60 designs of 1 to 16 people with 1 to 3 devices each, some without a figure on a band."""
    rng = np.random.default_rng(seed)
    people = rng.integers(1, 17, size=60)
    rows = [
        (design, person)
        for design, count in enumerate(people)
        for person in range(count)
        for _ in range(rng.integers(1, 4))
    ]
    design, person = np.array(rows).T
    worst_db = rng.normal(rng.uniform(15, 30, size=60)[design][:, None], 3, size=(len(rows), len(BANDS)))
    worst_db[rng.random(worst_db.shape) < 0.1] = np.nan
    keys = tuple(f"design-{number}" for number in range(60))
    return EvidenceTable(
        release=1,
        salt=b"",
        kind="common_mode",
        bands=BANDS,
        design_keys=keys,
        index_of={key: index for index, key in enumerate(keys)},
        worst=worst_db,
        design=design,
        person=person,
        people=people,
        one_jig=rng.random(60) < 0.2,
        votes_per_contributor=3,
        usual_spread=2.0,
    )


@pytest.mark.parametrize("asked", [("80m",), BANDS])
@pytest.mark.parametrize("benchmark_db", [15.0, 23.5, 31.0])
@pytest.mark.parametrize("seed", [1, 2, 3])
def test_all_that_may_be_shown_is_as_if_every_design_were_judged(seed, benchmark_db, asked):
    table = invent_table(seed)
    base = table.judged(asked, 20.0, LEAST)
    whole = table.judged(asked, benchmark_db, LEAST)
    again = table.judge_again(base, asked, benchmark_db, least=LEAST, detail=DETAIL)
    detailed = whole.contributors >= DETAIL
    assert 5 < detailed.sum() < 55 and again.benchmark == benchmark_db
    for name, figures in vars(whole).items():
        if isinstance(figures, np.ndarray):
            shown = detailed if name in HIDDEN_OTHERWISE else np.ones_like(detailed)
            np.testing.assert_array_equal(getattr(again, name)[shown], figures[shown], err_msg=name)
    np.testing.assert_array_equal(again.code == 3, whole.code == 3)  # too few stay too few


def test_without_a_design_of_so_many_nothing_is_judged_again():
    table = invent_table(4)
    base = table.judged(("80m",), 20.0, LEAST)
    again = table.judge_again(base, ("80m",), 25.0, least=LEAST, detail=100)
    assert again.code is base.code and again.benchmark == 25.0
