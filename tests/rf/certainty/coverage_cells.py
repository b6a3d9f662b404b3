"""The cells of the coverage table: about sixty that hold every pair of factors, and what is counted in each.

A cell is one method, ratio, class of analyser, tolerance of resistors, drift, and whether the analyser was
described. In each, tests are drawn and the truths inside the stated uncertainty are counted.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import astuple, dataclass
from itertools import combinations, product

import numpy as np

from tests.rf.certainty.simulated_analysers import CLASSES
from tests.rf.certainty.simulated_tests import (
    LOSS_METHODS,
    MATCH_METHODS,
    METHODS,
    THROUGH_METHODS,
    Cell,
    run_test,
)

DRAWS = 2000
LEAST_SHARE = 0.93  # of truths inside U
LARGEST_RATIO = 1.6  # of the median U to the 95 % quantile of the errors, where the analyser is described
CELLS = 60  # of loss, rejection and impedance
THROUGH_CELLS = 11  # of direct and known_partner with the jig's through
MATCH_CELLS = 18  # of match and balance
DRIFTS_DB = (0.0, 0.05, 0.1)
PERCENTS = (1.0, 5.0)


def list_all_cells(methods: Iterable[str] = tuple(METHODS)) -> list[Cell]:
    """Every combination that makes sense."""
    return [
        Cell(method, ratio, analyser, percent, drift_db, described)
        for method in methods
        for ratio, analyser, percent, drift_db, described in product(
            list_ratios(method), CLASSES, PERCENTS, DRIFTS_DB, (True, False)
        )
    ]


def list_ratios(method: str) -> tuple[int, ...]:
    if method.startswith(("direct", "rejection", "zcm", "balance")):
        return (1,)
    if method == "known_partner with the through":
        return (4, 9)
    return (4, 9, 49) if method.startswith("series") else (1, 4, 9, 49)


def list_pairs(cell: Cell) -> set[tuple[tuple[int, object], ...]]:
    """Every pair of factors with its two values."""
    return set(combinations(enumerate(astuple(cell)), 2))


def choose_cells() -> list[Cell]:
    """Three covering arrays: of loss, rejection and impedance; of loss with the jig's through; of match."""
    return [
        *_cover(LOSS_METHODS, CELLS),
        *_cover(THROUGH_METHODS, THROUGH_CELLS),
        *_cover(MATCH_METHODS, MATCH_CELLS),
    ]


def _cover(methods: Iterable[str], count: int) -> list[Cell]:
    """By greed: cells with the most pairs not yet held, then with the most triples."""
    everything = list_all_cells(methods)
    open_pairs = set().union(*map(list_pairs, everything))
    chosen: list[Cell] = []
    while open_pairs:
        best = max(everything, key=lambda cell: len(list_pairs(cell) & open_pairs))
        chosen.append(best)
        open_pairs -= list_pairs(best)
    held = set().union(*map(_list_triples, chosen))
    while len(chosen) < count:
        best = max(everything, key=lambda cell: len(_list_triples(cell) - held))
        chosen.append(best)
        held |= _list_triples(best)
    return chosen


def _list_triples(cell: Cell) -> set[tuple[tuple[int, object], ...]]:
    return set(combinations(enumerate(astuple(cell)), 3))


_UNITS = {"zcm": "ohm", "load_match": "SWR"}


@dataclass(frozen=True)
class Coverage:
    """What was counted in one cell: share of truths inside U, median U, 95 % quantile of the errors."""

    cell: Cell
    inside: float
    median_u: float
    error_95: float

    @property
    def ratio(self) -> float:
        return self.median_u / self.error_95

    @property
    def holds(self) -> bool:
        return self.inside >= LEAST_SHARE and (not self.cell.described or self.ratio <= LARGEST_RATIO)

    def __str__(self) -> str:
        cell, unit = self.cell, _UNITS.get(self.cell.method.split(" ")[0], "dB")
        unit = "deg" if cell.method.endswith("phase") else unit
        known = "described" if cell.described else "undescribed"
        return (
            f"{cell.method:<33}{cell.ratio:>3}:1  {cell.analyser:<15}{cell.percent:>2.0f} %  "
            f"drift {cell.drift_db:.2f} dB  {known:<12}inside {100 * self.inside:5.1f} %  "
            f"U {self.median_u:7.3f} {unit:<4} 95 % of errors {self.error_95:7.3f}  ratio {self.ratio:4.2f}"
        )


def measure_coverage(cell: Cell, draws: int, seed: int = 1) -> Coverage:
    """Draw tests of one cell and count; a band without a figure or without U counts as missed."""
    rng = np.random.default_rng([seed, *map(ord, str(cell))])
    errors, stated = [], []
    for _ in range(draws):
        for error, uncertainty in _list_errors(rng, cell):
            errors.append(error)
            stated.append(uncertainty)
    size, spread = np.abs(errors), np.array(stated)
    known = np.isfinite(size) & np.isfinite(spread)
    return Coverage(
        cell,
        float(np.mean(known & (size <= spread))),
        float(np.median(spread[known])),
        float(np.quantile(size[known], 0.95)),
    )


def _list_errors(rng: np.random.Generator, cell: Cell) -> Iterator[tuple[float, float]]:
    figures = run_test(rng, cell)
    for band, truth in figures.truth.items():
        found, uncertainty = figures.found[band], figures.uncertainty[band]
        yield (
            np.nan if found is None else found - truth,
            np.nan if uncertainty is None else uncertainty,
        )
