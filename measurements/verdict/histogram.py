"""How the figures of a design spread, in bins that at least three persons stand behind."""

from __future__ import annotations

from dataclasses import dataclass

import numpy as np
from numpy.typing import ArrayLike, NDArray

from measurements.verdict.contributor_counts import UNKNOWN_PERSON

LEAST_PERSONS = 3  # behind each bin


@dataclass(frozen=True)
class Bin:
    """Figures from `low` (included) to `high` (not); None: open, so that no bin ends at a single figure.

    devices: how many figures lie in it.
    """

    low: float | None
    high: float | None
    devices: int


def build_histogram(values: ArrayLike, persons: ArrayLike, step: float) -> tuple[Bin, ...] | None:
    """Build bins whose edges are multiples of `step`, each as narrow as three persons allow.

    values: (n,) figures, NaN where a device has none. persons: (n,) whole numbers, alike for one person.
    Bins are closed from the lowest figure upwards; those left over at the end belong to the last bin.
    None where persons are unknown or fewer than six stand behind the figures: one bin tells nothing.
    """
    figures, people = np.asarray(values, dtype=np.float64), np.asarray(persons, dtype=np.int64)
    there = ~np.isnan(figures)
    figures, people = figures[there], people[there]
    if figures.size == 0 or bool(np.any(people == UNKNOWN_PERSON)):
        return None
    place = np.floor(figures / step + 1e-9).astype(np.int64)
    edges = _find_inner_edges(place, people)
    if not edges:
        return None
    ends: list[float | None] = [None, *(float(np.round(edge * step, 6)) for edge in edges), None]
    counts = np.histogram(place, [place.min() - 1, *edges, place.max() + 2])[0].tolist()
    return tuple(Bin(low, high, count) for low, high, count in zip(ends[:-1], ends[1:], counts, strict=True))


def _find_inner_edges(place: NDArray[np.int64], people: NDArray[np.int64]) -> list[int]:
    """Find the edges between bins, in steps: each bin, the last one too, holds three persons or more."""
    edges: list[int] = []
    held: set[int] = set()
    for step in sorted(set(place.tolist())):
        held |= set(people[place == step].tolist())
        rest = set(people[place > step].tolist())
        if len(held) >= LEAST_PERSONS and len(rest) >= LEAST_PERSONS:
            edges.append(step + 1)
            held = set()
    return edges
