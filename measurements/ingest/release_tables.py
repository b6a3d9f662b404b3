"""The rows of a release's files: identity-free ones for members, coarse aggregates for the public.

Cells are read some designs at a time. Whose votes stand behind a cell is not read here.
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

import numpy as np

from measurements.disclosure import evidence_view, released_rows
from measurements.disclosure.portions import portions
from measurements.disclosure.thresholds import Thresholds
from measurements.models import Cell, EvidenceSample
from measurements.verdict import band_verdict

_STORED = np.dtype("<f4")
PORTION = 2000  # devices read at a time


def evidence(salt: bytes) -> Iterator[list[tuple[Any, ...]]]:
    """Rows of the open cells, some designs at a time, in the columns of `release_columns.EVIDENCE`.

    The order is that of `evidence/`.
    """
    cells = Cell.objects.filter(last_release=None).order_by("design__key").values_list("id", "devices")
    for portion in portions(list(cells), PORTION):
        samples = EvidenceSample.objects.filter(cell__in=portion)
        yield released_rows.in_order(salt, samples.values_list(*released_rows.STORED))


def public(benchmark_db: float, limits: Thresholds) -> Iterator[tuple[Any, ...]]:
    """Aggregates of the open cells in the columns of `release_columns.PUBLIC`.

    One row per design and band that the public sees; what is under its threshold is not there at all.
    """
    cells = Cell.objects.filter(last_release=None).order_by("design__key")
    columns = ("design__key", "design__title", "contributors", "bands", "worst_db")
    for key, title, people, bands, stored in cells.values_list(*columns).iterator():
        # rounded as published: a stored float32 is a hair off the figure it stands for
        worst_db = np.frombuffer(bytes(stored), _STORED).reshape(-1, len(bands)).astype(np.float64).round(2)
        for index, band in enumerate(bands):
            shown = _shown(worst_db[:, index], band, people, benchmark_db, limits)
            if shown["verdict"] != evidence_view.NOT_ENOUGH:
                yield key, title, *_flat(shown)


def _shown(
    worst_db: np.ndarray[Any, np.dtype[np.float64]],
    band: str,
    people: int,
    benchmark_db: float,
    limits: Thresholds,
) -> dict[str, Any]:
    verdict = band_verdict.judge(
        worst_db, benchmark_db, people, limits.public_min_contributors, limits.votes_per_contributor
    )
    return evidence_view.shown(
        verdict, band=band, benchmark_db=benchmark_db, circle="public", thresholds=limits
    )


def _flat(shown: dict[str, Any]) -> tuple[Any, ...]:
    figures = shown["rejection_db"]
    named = ("band", "benchmark_db", "verdict", "devices", "contributors")
    return (*(shown[name] for name in named), figures["median"], figures["tolerance_low"])
