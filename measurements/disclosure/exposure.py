"""Can several published states together give away one person's figures?

Comparing states in pairs is not enough: from {1,2,3}, {1,2,3,4,5} and {4,5,6} every pair differs by two
persons or more, yet second minus first gives 4 and 5 together, and third minus that gives 6 alone. A
mean or a count of passes beside the number of devices is a sum, and sums can be added and subtracted
at will. So a state may join the history of a design only if no linear combination of all its
published states is a combination of one person's figures alone.

Test: rows of a matrix are states, columns are tests, 1 where the test is in the state. With Q an
orthonormal basis of the row space (r, T), some combination lies wholly on a person's columns c exactly
when a singular value of Q[:, c] is 1; for one column its square is the leverage known from regression.
Own derivation: Q_c Q_c' + Q_rest Q_rest' = 1, so a singular value 1 of the one is a 0 of the other,
that is a vector of the row space with nothing on the other columns.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure.votes import Vote

# Rounding leaves a true 1 within 1e-12 of it. A value that near without being 1 would only make a change
# wait, never publish.
_SINGULAR_ONE = 1.0 - 1e-9


def count_exposures(states: Sequence[frozenset[Vote]], person: Mapping[str, str]) -> dict[str, int]:
    """How many independent combinations of `states` consist of one person's figures alone, by person.

    Persons of whom there is none are left out: an empty answer is a safe history.
    states: states of one design. person: see `people.persons`.
    """
    tests = sorted({vote.test for state in states for vote in state})
    if not tests:
        return {}
    column = {test: index for index, test in enumerate(tests)}
    matrix = np.zeros((len(states), len(tests)))
    owned: dict[str, set[int]] = {}
    for row, state in enumerate(states):
        for vote in state:
            matrix[row, column[vote.test]] = 1.0
            owned.setdefault(person[vote.contributor], set()).add(column[vote.test])
    basis = _compute_row_space(matrix)
    alone = {who: _count_dimensions(basis[:, sorted(columns)]) for who, columns in owned.items()}
    return {who: dimensions for who, dimensions in alone.items() if dimensions}


def adds_exposure(
    past: Sequence[frozenset[Vote]], wanted: frozenset[Vote], person: Mapping[str, str]
) -> bool:
    """Whether publishing `wanted` after `past` gives away a figure that `past` does not already.

    A history that gave someone away (made under weaker thresholds) cannot be mended by blocking
    everybody else's evidence for ever.
    """
    before = count_exposures(past, person)
    return any(count > before.get(who, 0) for who, count in count_exposures([*past, wanted], person).items())


def _count_dimensions(columns: NDArray[np.float64]) -> int:
    """How many singular values of a block of the basis (r, c) are 1."""
    return int(np.count_nonzero(np.linalg.svd(columns, compute_uv=False) >= _SINGULAR_ONE))


def _compute_row_space(matrix: NDArray[np.float64]) -> NDArray[np.float64]:
    """Orthonormal basis (r, T) of the rows of a 0/1 matrix (R, T)."""
    _, singular, rows = np.linalg.svd(np.unique(matrix, axis=0), full_matrices=False)
    rank = int(np.count_nonzero(singular > singular[0] * max(matrix.shape) * np.finfo(float).eps))
    basis: NDArray[np.float64] = rows[:rank]
    return basis
