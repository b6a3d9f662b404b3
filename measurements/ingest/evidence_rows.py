"""From the results behind a design's votes to the identity-free rows of its cell.

Pure but for the tables it builds rows for: nothing here knows whose a result is, beyond a number that
tells contributors of one design apart while the percentiles are taken.
"""

from __future__ import annotations

import hashlib
import json
import random
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure import packed_figures, published_figures
from measurements.disclosure.row_ids import shuffled
from measurements.ingest.arrays import CURVE
from measurements.models import Cell, EvidenceSample
from measurements.verdict.percentiles import curve_band

WORST = np.dtype("<f4")
REFERENCE_OHM = 50.0


@dataclass(frozen=True)
class Voice:
    """One vote without its owner. contributor: a number that is the same for votes of one person."""

    contributor: int
    month: str
    figures: dict[str, Any]
    curve: bytes


@dataclass(frozen=True)
class CellRows:
    """A cell not yet stored, with its samples in an order of their own."""

    cell: Cell
    samples: list[EvidenceSample]


def build(
    *, design_id: int, release: int, voices: list[Voice], min_contributors: int, rng: random.Random
) -> CellRows:
    """The cell of a design from the votes that stand behind it."""
    mixed = shuffled(voices, rng)
    banded = [published_figures.of_bands(voice.figures) for voice in mixed]
    bands = [band["band"] for band in mixed[0].figures["bands"]]
    bands = [band for band in bands if any(band in rows for rows in banded)]
    worst = np.array([[_worst(rows, band) for band in bands] for rows in banded], dtype=WORST)
    cell = Cell(
        design_id=design_id,
        first_release=release,
        devices=len(mixed),
        contributors=len({voice.contributor for voice in mixed}),
        bands=bands,
        worst_db=worst.reshape(len(mixed), len(bands)).tobytes(),
        curves=_curves(mixed, min_contributors),
    )
    pairs = shuffled(list(zip(mixed, banded, strict=True)), rng)
    samples = [_sample(cell, voice, own) for voice, own in pairs]
    cell.content_sha256 = _content_sha256(cell, samples, banded)
    return CellRows(cell, samples)


def _worst(rows: dict[str, dict[str, Any]], band: str) -> float:
    return float(rows[band]["rejection_worst_db"]) if band in rows else float("nan")


def _sample(cell: Cell, voice: Voice, banded: dict[str, dict[str, Any]]) -> EvidenceSample:
    figures, coverage = packed_figures.pack(banded, cell.bands)
    return EvidenceSample(
        cell=cell,
        month=voice.month,
        method=voice.figures["method"],
        **published_figures.of_summary(voice.figures),
        curve=voice.curve,
        figures=figures,
        coverage=coverage,
    )


def _curves(voices: list[Voice], min_contributors: int) -> dict[str, Any]:
    """Median and 10-90 % band per frequency of rejection, R, X and |Z|; empty where too few people."""
    z_ohm = np.array([np.frombuffer(voice.curve, CURVE) for voice in voices]).astype(np.complex128)
    people = np.array([voice.contributor for voice in voices])
    rejection_db = 20 * np.log10(np.abs(1 + z_ohm / (2 * REFERENCE_OHM)))
    named = {
        "rejection_db": (rejection_db, 2),
        "resistance_ohm": (z_ohm.real, 1),
        "reactance_ohm": (z_ohm.imag, 1),
        "impedance_ohm": (np.abs(z_ohm), 1),
    }
    curves: dict[str, Any] = {}
    for name, (values, digits) in named.items():
        band = curve_band(values, people, min_contributors)
        if band is None:
            return {}
        curves[name] = {
            "median": _listed(band.median, digits),
            "p10": _listed(band.p10, digits),
            "p90": _listed(band.p90, digits),
        }
        curves["contributors"] = band.contributors.tolist()
    return curves


def _content_sha256(
    cell: Cell, samples: list[EvidenceSample], banded: list[dict[str, dict[str, Any]]]
) -> str:
    """Of the figures alone, in sorted order: neither row ids nor row order are content."""
    names = ("coverage", *packed_figures.FIGURES)
    content = {
        "devices": cell.devices,
        "contributors": cell.contributors,
        "curves": cell.curves,
        "samples": sorted([s.month, s.method, bytes(s.curve).hex()] for s in samples),
        "rows": sorted(
            [band, *(str(own[name]) for name in names)] for rows in banded for band, own in rows.items()
        ),
    }
    return hashlib.sha256(json.dumps(content, sort_keys=True).encode()).hexdigest()


def _listed(values: NDArray[np.float64], digits: int) -> list[float | None]:
    return [round(float(value), digits) if np.isfinite(value) else None for value in values]
