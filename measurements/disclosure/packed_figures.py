"""A device's published figures on all bands of its cell as one block of bytes, and back.

B bands in the order of the cell. figures: B x 5 little-endian float32 in the order of `FIGURES`, NaN where
there is none; a float32 holds every figure as finely as it is published. coverage: one letter per band.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

from measurements.disclosure.published_figures import significant

FIGURES = (
    "rejection_worst_db",
    "rejection_centre_db",
    "rejection_best_db",
    "resistance_smallest_ohm",
    "impedance_smallest_ohm",
)
_STORED = np.dtype("<f4")
_DECIBELS = 3
_ABSENT = "-"
_LETTERS = {"full": "f", "interpolated": "i", None: _ABSENT}
_COVERAGES = {letter: coverage for coverage, letter in _LETTERS.items()}
_NONE = (None,) * (1 + len(FIGURES))


def pack(rows: Mapping[str, Sequence[Any]], bands: Sequence[str]) -> tuple[bytes, str]:
    """(figures, coverage) of the bands of `published_figures.of_result`, in the order of `bands`."""
    letters, figures = [], []
    for band in bands:
        coverage, *own = rows.get(band, _NONE)
        letters.append(_LETTERS[coverage])
        figures += own
    return np.array(figures, dtype=_STORED).tobytes(), "".join(letters)


def unpack(bands: Sequence[str], figures: bytes, coverage: str) -> Iterator[tuple[Any, ...]]:
    """(band, coverage, *figures in the order of `FIGURES`) of every band that has any; None for none.

    Raises ValueError where the block does not belong to these bands.
    """
    block = np.frombuffer(figures, _STORED).reshape(len(bands), len(FIGURES)).tolist()
    for band, letter, row in zip(bands, coverage, block, strict=True):
        if letter == _ABSENT:
            continue
        # rounded as published: a stored float32 is a hair off the figure it stands for
        decibels = [round(value, 2) for value in row[:_DECIBELS]]
        ohms = [None if value != value else significant(value) for value in row[_DECIBELS:]]
        yield band, _COVERAGES[letter], *decibels, *ohms
