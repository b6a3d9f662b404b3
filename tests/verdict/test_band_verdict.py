"""One design, many designs, one band, several bands."""

import numpy as np
import pytest

from measurements.errors import BenchnightError
from measurements.verdict import contributor_counts, decision_rule, tolerance_bound
from measurements.verdict.band_verdict import (
    compute_worst_over_bands,
    extract_verdict,
    judge_design,
    judge_design_jointly,
)
from measurements.verdict.contributor_counts import UNKNOWN_PERSON, VoteWeights, weigh_votes
from measurements.verdict.design_verdicts import DesignVotes, judge_designs

NAN = float("nan")


def judge_all_alone(worst_db, design, designs, benchmark_db=20.0):
    """Every device of another person."""
    worst_db, design = np.asarray(worst_db, dtype=float), np.asarray(design)
    votes = ~np.isnan(worst_db)
    weights = weigh_votes(design, np.arange(design.size), votes, np.full(designs, design.size))
    return judge_designs(DesignVotes(worst_db, design, weights, np.zeros(designs, bool)), benchmark_db)


def test_three_of_three_carry_their_figures():
    got = judge_design([24.0, 20.0, 31.0], 20.0, 3)
    # t of 2 degrees of freedom in closed form: 1/2 + x / (2 sqrt(2 + x^2)), x = 5 / (5.568 sqrt(4/3)) = 0.778
    assert (got.verdict, round(got.chance, 3)) == ("mixed", 0.741)
    assert (got.devices, got.contributors, got.passing, got.share) == (3, 3, 3, 1.0)
    assert round(got.share_low, 3) == 0.646
    assert got.share_high == 1.0
    assert (got.median, got.tolerance_low) == (24.0, None)
    assert (got.p10, got.p90) == pytest.approx(tuple(np.percentile([24.0, 20.0, 31.0], (10, 90))))
    assert got.benchmark == 20.0


def test_passing_includes_the_benchmark_itself():
    assert judge_design([20.0] * 4, 20.0, 4).passing == 4
    assert judge_design([np.nextafter(20.0, 0)] * 4, 20.0, 4).passing == 0


def test_the_benchmark_asked_for_decides():
    values_db = [21.0, 22.0, 23.0, 24.0, 26.0]
    assert judge_design(values_db, 20.0, 5).verdict == "typically_meets"
    assert judge_design(values_db, 25.5, 5).verdict == "typically_falls_short"
    assert judge_design(values_db, 22.5, 5).verdict == "mixed"
    with pytest.raises(BenchnightError):
        judge_design(values_db, 41.0, 5)


def test_a_tolerance_bound_from_five_devices_on():
    values_db = [21.0, 22.0, 23.0, 24.0, 26.0]
    # mean less k s: NIST/SEMATECH e-Handbook 7.2.6.3; its exact k at n 5, p 0.90, confidence 0.90 is 2.7423
    expected = np.mean(values_db) - 2.7423 * np.std(values_db, ddof=1)
    assert judge_design(values_db, 20.0, 5).tolerance_low == pytest.approx(expected, abs=1e-3)
    assert judge_design([24.5] * 6, 20.0, 6).tolerance_low == pytest.approx(24.5)
    assert judge_design(values_db[:4], 20.0, 4).tolerance_low is None


def test_too_few_devices_or_people_carry_no_figure():
    for got in (judge_design([30.0, 30.0], 20.0, 2), judge_design([30.0] * 6, 20.0, ["a"] * 3 + ["b"] * 3)):
        assert got.verdict == "not_enough_devices"
        figures = (got.passing, got.share, got.share_low, got.share_high, got.median, got.p10, got.p90)
        assert set(figures) | {got.tolerance_low} == {None}


def test_no_devices_at_all():
    assert judge_design([], 20.0, 0).verdict == "not_enough_devices"
    assert judge_design([NAN, NAN, NAN], 20.0, 3).devices == 0


def test_a_device_that_does_not_cover_the_band_does_not_vote():
    got = judge_design([30.0, 30.0, 10.0, NAN], 20.0, ["a", "b", "c", "d"])
    assert (got.devices, got.contributors, got.passing) == (3, 3, 2)
    # ... and takes its contributor with it
    assert judge_design([30.0, 30.0, NAN], 20.0, ["a", "b", "c"]).verdict == "not_enough_devices"


def test_from_a_bare_number_only_certain_people_count():
    # 3 people, 6 devices, 2 without a vote: both may be all that one person has
    assert judge_design([30.0] * 4 + [NAN] * 2, 20.0, 3).contributors == 1
    # at most two devices for each person: 4 votes need two people at least
    assert judge_design([30.0] * 4 + [NAN] * 2, 20.0, 3, votes_per_contributor=2).contributors == 2
    assert judge_design([30.0] * 4, 20.0, 4).contributors == 4


@pytest.mark.parametrize("labels", [["a", "b"], 4])
def test_contributors_that_do_not_match_are_refused(labels):
    with pytest.raises(ValueError):
        judge_design([20.0, 21.0, 22.0], 20.0, labels)


def test_certain_people_are_never_more_than_the_true_ones():
    rng = np.random.default_rng(5)
    for _ in range(300):
        owner = rng.integers(0, 5, size=rng.integers(1, 12))
        voting = rng.random(owner.size) < 0.6
        cap = int(np.bincount(owner).max())
        true = np.unique(owner[voting]).size
        sure = contributor_counts.count_certain_contributors(
            np.unique(owner).size, owner.size, voting.sum(), cap
        )
        assert sure <= true
        assert (sure > 0) == (true > 0)


def test_bands_are_judged_jointly_device_by_device_not_as_a_product():
    # Each band is passed by 4 of 5, and by different devices: only 3 pass both.
    matrix_db = np.array([[25, 25], [25, 25], [25, 25], [25, 15], [15, 25]], dtype=float)
    single = judge_design(matrix_db[:, 0], 20.0, 5)
    assert single.chance == judge_design(matrix_db[:, 1], 20.0, 5).chance
    joint = judge_design_jointly(matrix_db, 20.0, 5)
    assert joint.passing == 3
    assert joint.chance < single.chance
    # ... and by the same devices: the joint chance is that of one band, where a product would be smaller.
    same = judge_design_jointly(np.array([[25, 25]] * 4 + [[15, 15]], dtype=float), 20.0, 5)
    assert (same.share, same.chance) == (0.8, single.chance)


def test_joint_figures_are_of_each_devices_poorest_band():
    joint = judge_design_jointly([[30.0, 22.0], [21.0, 40.0], [25.0, 26.0]], 20.0, 3)
    assert joint.median == 22.0


def test_a_device_lacking_one_of_the_bands_has_no_joint_vote():
    matrix_db = np.array([[25.0, 25.0]] * 3 + [[25.0, NAN]])
    assert judge_design_jointly(matrix_db, 20.0, ["a", "b", "c", "d"]).devices == 3
    with pytest.raises(ValueError, match="matrix"):
        compute_worst_over_bands(np.zeros(4))


def test_many_designs_equal_numpy_one_by_one():
    """Reference: numpy's own percentile, mean and std, group by group; labels counted with sets."""
    rng = np.random.default_rng(11)
    designs, rows = 3000, 30000
    design = rng.integers(0, designs, rows)
    owner = rng.integers(0, 6, rows)
    worst_db = np.where(rng.random(rows) < 0.1, np.nan, rng.normal(23, 4, rows))
    voting = ~np.isnan(worst_db)
    weights = weigh_votes(design, owner, voting, np.full(designs, 6))
    votes = DesignVotes(worst_db, design, weights, np.zeros(designs, dtype=bool))
    verdicts = judge_designs(votes, 22.0)
    for d in range(0, designs, 41):
        values = worst_db[(design == d) & voting]
        got = extract_verdict(verdicts, d)
        assert got.devices == values.size
        assert got.contributors == len(set(owner[(design == d) & voting]))
        if got.verdict == "not_enough_devices":
            assert values.size < 3 or got.contributors < 3
            continue
        assert got.passing == int((values >= 22.0).sum())
        expected = np.percentile(values, (50, 10, 90))
        assert (got.median, got.p10, got.p90) == pytest.approx(tuple(expected), rel=1e-12)
        if values.size < tolerance_bound.MIN_DEVICES:
            assert got.tolerance_low is None
        else:
            bound_db = values.mean() - tolerance_bound.compute_tolerance_factor(values.size) * values.std(
                ddof=1
            )
            assert got.tolerance_low == pytest.approx(bound_db, rel=1e-12)
        assert got.share == pytest.approx(got.passing / values.size)


def test_a_design_without_any_row_is_still_answered():
    verdicts = judge_all_alone([25.0, 25.0, 25.0], [2, 2, 2], 3)
    assert [decision_rule.VERDICTS[c] for c in verdicts.code] == ["not_enough_devices"] * 2 + [
        "typically_meets"
    ]
    assert np.isnan(verdicts.median[:2]).all()


@pytest.mark.parametrize(
    ("worst_db", "design", "message"),
    [([20.0, 21.0], [0], "One value"), ([20.0], [3], "out of range"), ([float("inf")], [0], "infinite")],
)
def test_rows_that_do_not_match_are_refused(worst_db, design, message):
    with pytest.raises(ValueError, match=message):
        weights = VoteWeights(np.array([1]), np.ones(len(worst_db)))
        DesignVotes(np.array(worst_db), np.array(design), weights, np.array([False]))


def test_weights_of_one_person_add_up_to_one_also_where_persons_are_unknown():
    design = [0, 0, 0, 0, 1, 1, 1, 1]
    person = [7, 7, 8, 9, *[UNKNOWN_PERSON] * 4]
    voting = [True, True, True, False, True, True, True, True]
    got = weigh_votes(design, person, voting, [3, 2], 3)
    assert got.persons.tolist() == [2, 2]
    assert got.weight.tolist() == [0.5, 0.5, 1.0, 0.0, 0.5, 0.5, 0.5, 0.5]
