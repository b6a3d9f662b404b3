"""From the terms of an error budget to an expanded uncertainty U (95 %) of a figure.

Each term moves the readings that a figure is computed from. The figure is computed again with every term at
its full size in each direction, all in one array, and the changes add up in squares (GUM, JCGM 100:2008,
5.1.2). Finite moves are used, not derivatives, because near a resonance 0.01 is not small; of two opposite
moves the one that changes more counts.

Standard deviations as shares of the full size (JCGM 100:2008, 4.3.7): a value anywhere in a complex disc has
1/2 in each component, one of known size and unknown phase 1/sqrt(2) (closed forms), one anywhere in an
interval 1/sqrt(3). A stray has one sign and an
unknown size, so half of its largest effect is added as it is and the rest counts as an interval (5.1 and
F.2.4.5). U = 2 times the combined standard deviation, plus those halves.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Literal

import numpy as np
from numpy.typing import NDArray

from measurements.rf.sweeps.sweep import Floats

COVERAGE_FACTOR = 2.0
Shape = Literal["disc", "ring", "repeat", "interval", "stray"]

# standard deviation of each component, as a share of the full size
_SHARES: dict[Shape, float] = {
    "disc": 0.5,
    "ring": np.sqrt(0.5),
    "repeat": 1.0,
    "interval": 1.0 / np.sqrt(3.0),
    "stray": 0.5 / np.sqrt(3.0),
}
_BOTH_COMPONENTS: tuple[complex, ...] = (1.0, -1.0, 1.0j, -1.0j)
_ONE_COMPONENT: tuple[complex, ...] = (1.0, -1.0)
_SMALL_STEPS: tuple[complex, ...] = (1.0, 1.0j)

Array = NDArray[Any]  # real or complex
Values = Mapping[str, Array]
FigureOf = Callable[[Values], Floats]


@dataclass(frozen=True)
class ErrorTerm:
    """One independent source of error.

    shape: "disc", "ring" and "repeat" (one standard deviation of each component) are complex; "interval" and
    "stray" move one way or back.
    moves: name of a reading -> (F,) its change at the term's full size; readings moved by one term move
    together.
    """

    source: str
    shape: Shape
    moves: Values

    @property
    def is_repeated(self) -> bool:
        """Say whether every sweep has its own; what a calibration left over is common to all of them."""
        return self.shape == "repeat"

    @property
    def directions(self) -> tuple[complex, ...]:
        if self.shape == "repeat":
            return _SMALL_STEPS  # so small that a step back changes as much
        return _ONE_COMPONENT if self.shape in ("interval", "stray") else _BOTH_COMPONENTS


def propagate(figure_of: FigureOf, readings: Values, terms: Sequence[ErrorTerm]) -> Floats:
    """Return U (95 %) of `figure_of(readings)`, (..., F): NaN where the figure, or a moved one, is not
    defined.

    readings: (F,) each. figure_of takes them with a leading axis, (K, F), and answers (K, F), or several
    figures at once as (..., K, F).
    """
    return combine(compute_changes(figure_of, readings, terms), terms)


def compute_changes(figure_of: FigureOf, readings: Values, terms: Sequence[ErrorTerm]) -> Floats:
    """Return (..., K, F): how the figures change with every term in each of its directions, in order."""
    count = 1 + sum(len(term.directions) for term in terms)
    moved = {
        name: np.repeat(np.asarray(value, complex)[None, :], count, axis=0)
        for name, value in readings.items()
    }
    row = 1
    for term in terms:
        for direction in term.directions:
            for name, move in term.moves.items():
                moved[name][row] += direction * move
            row += 1
    with np.errstate(invalid="ignore", over="ignore"):
        figures = figure_of(moved)
        changes: Floats = figures[..., 1:, :] - figures[..., :1, :]
    return changes


def combine(changes: Floats, terms: Sequence[ErrorTerm]) -> Floats:
    """Return U (95 %), (..., F), from the changes that `compute_changes` made of these terms."""
    shape = (*changes.shape[:-2], changes.shape[-1])
    variance, halves = np.zeros(shape), np.zeros(shape)
    row = 0
    for term in terms:
        rows = np.abs(changes[..., row : row + len(term.directions), :])
        row += len(term.directions)
        if term.shape != "repeat":
            # opposite directions stand side by side: the larger of each two counts
            rows = np.maximum(rows[..., 0::2, :], rows[..., 1::2, :])
        squares = np.sum(rows**2, axis=-2)
        variance += _SHARES[term.shape] ** 2 * squares
        if term.shape == "stray":
            halves += squares / 4.0
    total: Floats = COVERAGE_FACTOR * np.sqrt(variance) + np.sqrt(halves)
    return total


def add_in_squares(*uncertainties: Floats) -> Floats:
    """Return U of a sum of independent figures, from the U of each."""
    total: Floats = np.sqrt(np.sum(np.square(np.broadcast_arrays(*uncertainties)), axis=0))
    return total
