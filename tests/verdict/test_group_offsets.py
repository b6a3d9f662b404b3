"""Offsets of groups on invented clubs: who reads how far off, how often an honest club is blamed."""

from __future__ import annotations

import numpy as np
import pytest

from measurements.verdict.group_offsets import estimate_offsets

CLUBS, DESIGNS = 40, 80


def invent(rng: np.random.Generator, offset_db: np.ndarray, per_club: int = 10, bad: float = 0.1):
    """Figures of builds: designs of 20 to 35 dB, spread 2 dB, one build in ten 15 dB lower."""
    middle = rng.uniform(20, 35, DESIGNS)
    club = np.repeat(np.arange(CLUBS), per_club)
    design = rng.integers(0, DESIGNS, club.size)
    figure = middle[design] + offset_db[club] + rng.normal(0, 2.0, club.size)
    return figure - 15 * (rng.random(club.size) < bad), design, club


def test_a_jig_2_db_off_is_named_and_honest_clubs_are_not():
    named, blamed, size, held = 0, 0, [], 0
    for seed in range(60):
        rng = np.random.default_rng(seed)
        true = rng.normal(0, 0.3, CLUBS)
        true[0] = 2.0
        found = estimate_offsets(*invent(rng, true, per_club=40), CLUBS)
        certain = found.is_certain()
        named += bool(certain[0])
        blamed += int(certain[1:][np.abs(true[1:] - true.mean()) < 0.5].sum())
        size.append(found.offset[0])
        held += abs(found.offset[0] - (2.0 - true.mean())) <= 1.96 * found.deviation[0]
    print(
        f"2 dB off, 40 votes a club: named {named}/60, said {np.mean(size):.2f} dB; "
        f"its interval holds {held}/60; honest clubs blamed {blamed}/{60 * (CLUBS - 1)}"
    )
    assert named >= 50
    assert blamed <= 0.01 * 60 * (CLUBS - 1)
    assert np.mean(size) == pytest.approx(2.0, abs=0.5)


def test_stated_deviations_cover_the_truth():
    """Offsets count from the mean of all groups: only differences can be seen."""
    inside = total = 0
    for seed in range(60):
        rng = np.random.default_rng(1000 + seed)
        true = rng.normal(0, 1.0, CLUBS)
        found = estimate_offsets(*invent(rng, true, per_club=20), CLUBS)
        apart = np.abs(found.expected - (true - true.mean())) / found.expected_deviation
        inside += int((apart <= 1.96).sum())
        total += CLUBS
    print(f"95 % intervals of offsets hold {inside / total:.3f}")
    assert 0.92 <= inside / total <= 0.995


def test_equal_clubs_have_no_offsets_to_speak_of():
    found = estimate_offsets(*invent(np.random.default_rng(5), np.zeros(CLUBS)), CLUBS)
    assert np.abs(found.expected).max() < 1.0
    assert not found.is_certain().any()


def test_a_check_standard_carried_round_says_more_than_builds_do():
    rng = np.random.default_rng(3)
    true = np.zeros(CLUBS)
    true[0] = 1.5
    figure, design, club = invent(rng, true, per_club=4)
    standard = 30.0 + true + rng.normal(0, 0.3, CLUBS)
    figure = np.concatenate([figure, standard])
    design = np.concatenate([design, np.full(CLUBS, DESIGNS)])
    club = np.concatenate([club, np.arange(CLUBS)])
    carried = np.arange(figure.size) >= figure.size - CLUBS
    without = estimate_offsets(figure[~carried], design[~carried], club[~carried], CLUBS)
    found = estimate_offsets(figure, design, club, CLUBS, carried)
    assert found.deviation[0] < 0.75 * without.deviation[0]
    assert found.offset[0] == pytest.approx(1.5, abs=1.96 * found.deviation[0])


def test_without_a_shared_design_nothing_is_known():
    assert estimate_offsets([20.0, 21.0, 30.0], [0, 0, 1], [0, 0, 1], 2) is None
    assert estimate_offsets([np.nan, 21.0], [0, 0], [0, 1], 2) is None


def test_groups_that_all_tested_everything():
    """Balanced figures: each offset is near the group's mean over all designs less the mean of all."""
    true = np.array([1.0, -1.0, 0.5, -0.5, 0.25, -0.25, 0.0, 0.0])
    n = 300
    figure = np.linspace(20, 30, n)[:, None] + true + np.random.default_rng(1).normal(0, 0.5, (n, true.size))
    design, group = np.repeat(np.arange(n), true.size), np.tile(np.arange(true.size), n)
    found = estimate_offsets(figure.ravel(), design, group, true.size)
    assert found.expected == pytest.approx(figure.mean(axis=0) - figure.mean(), abs=0.1)
