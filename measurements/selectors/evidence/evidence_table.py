"""The current release as arrays, for look-ups over all designs at once.

A release is immutable, so its arrays are kept in this process under its number and its salt (a restored
database may hold another release of that number); nothing of who asks is in them.
N devices (rows), B bands, D designs.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from django.db.models import Q
from numpy.typing import NDArray

from measurements.models import Cell, Release
from measurements.verdict import contributor_counts
from measurements.verdict.band_verdict import compute_worst_over_bands
from measurements.verdict.design_verdicts import DesignVerdicts, judge_designs

_STORED = np.dtype("<f4")


@dataclass(frozen=True, eq=False)
class EvidenceTable:
    """worst_db (N, B): NaN where a device has no figure. design (N,): index into `design_keys` (D).

    people (D,): contributors of each design, exact. bands: B names.
    """

    release: int
    salt: bytes
    bands: tuple[str, ...]
    design_keys: tuple[str, ...]
    index_of: dict[str, int]
    worst_db: NDArray[np.float64]
    design: NDArray[np.int64]
    people: NDArray[np.int64]
    votes_per_contributor: int

    def judged(self, asked: tuple[str, ...], benchmark_db: float, min_contributors: int) -> DesignVerdicts:
        """Verdicts of all designs on the bands asked, jointly, device by device."""
        columns = [self.bands.index(band) for band in asked if band in self.bands]
        if len(columns) < len(asked) or not len(self.design):
            worst = np.full(len(self.design), np.nan)
        else:
            worst = compute_worst_over_bands(self.worst_db[:, columns])
        devices = np.bincount(self.design, minlength=len(self.design_keys))
        voting = np.bincount(self.design[~np.isnan(worst)], minlength=len(self.design_keys))
        people = contributor_counts.count_certain_contributors(
            self.people, devices, voting, self.votes_per_contributor
        )
        return judge_designs(worst, self.design, people, benchmark_db, min_contributors)

    def column_db(self, design: str, band: str) -> NDArray[np.float64]:
        """The worst-in-band rejections of a design's devices on a band, dB; empty where there are none."""
        index = self.index_of.get(design)
        if index is None or band not in self.bands:
            return np.empty(0)
        values = self.worst_db[self.design == index, self.bands.index(band)]
        return values[~np.isnan(values)]


def get_evidence_table() -> EvidenceTable | None:
    """The arrays of the newest release; None before the first."""
    newest = Release.objects.order_by("-number").values_list("number", "salt").first()
    return None if newest is None else _read_table(newest[0], bytes(newest[1]))


@lru_cache(maxsize=2)
def _read_table(number: int, salt: bytes) -> EvidenceTable:
    release = Release.objects.get(number=number)
    held = Q(last_release=None) | Q(last_release__gte=number)
    cells = Cell.objects.filter(held, first_release__lte=number).order_by("design__key")
    rows = list(cells.values_list("design__key", "contributors", "bands", "worst_db"))
    bands = tuple(dict.fromkeys(band for row in rows for band in row[2]))
    blocks = [_cell_block(row[2], bytes(row[3]), bands) for row in rows]
    keys = tuple(row[0] for row in rows)
    return EvidenceTable(
        release=number,
        salt=salt,
        bands=bands,
        design_keys=keys,
        index_of={key: index for index, key in enumerate(keys)},
        worst_db=np.vstack(blocks) if blocks else np.empty((0, len(bands))),
        design=np.repeat(np.arange(len(rows)), [len(block) for block in blocks]).astype(np.int64),
        people=np.array([row[1] for row in rows], dtype=np.int64),
        votes_per_contributor=int(release.thresholds["votes_per_contributor"]),
    )


def get_verdicts(
    table: EvidenceTable, asked: tuple[str, ...], benchmark_db: float, min_contributors: int
) -> DesignVerdicts:
    """`EvidenceTable.judged`, kept: the same question about a release has one answer."""
    return _compute_verdicts(table.release, table.salt, asked, benchmark_db, min_contributors)


@lru_cache(maxsize=64)
def _compute_verdicts(
    number: int, salt: bytes, asked: tuple[str, ...], benchmark_db: float, min_contributors: int
) -> DesignVerdicts:
    return _read_table(number, salt).judged(asked, benchmark_db, min_contributors)


def _cell_block(own: list[str], stored: bytes, bands: tuple[str, ...]) -> NDArray[np.float64]:
    """A cell's matrix with its columns in the order of `bands`, NaN for bands it does not have.

    Rounded as published: a stored float32 is a hair off the figure it stands for.
    """
    matrix = np.frombuffer(stored, _STORED).reshape(-1, len(own)).astype(np.float64).round(2)
    block = np.full((len(matrix), len(bands)), np.nan)
    block[:, [bands.index(band) for band in own]] = matrix
    return block
