"""Designs with one device of each of as many people, for readers who work on what is published."""

from __future__ import annotations

import zlib
from typing import Any

import numpy as np

from measurements.models import Cell
from tests import factories


def group_of(peaks_ohm: list[float], **recipe: Any) -> str:
    """A design with one device of each of as many people."""
    key = ""
    for index, peak_ohm in enumerate(peaks_ohm):
        by = factories.member(f"p-{index}")
        key = factories.design(by, **recipe)
        # noise of its own: the same sweep twice would not count
        seed = zlib.crc32(repr((index, peak_ohm, recipe)).encode())
        device = factories.device(by, key, tag=f"{key}-{index}")
        factories.record(by, device, factories.choke_s2p(peak_ohm, seed=seed, points=101))
    return key


def worst_db(design: str, band: str) -> list[float]:
    cell = Cell.objects.get(design__key=design, band="", last_release=None)
    matrix = np.frombuffer(bytes(cell.worst_db), "<f4").reshape(-1, len(cell.bands))
    return sorted(float(value) for value in matrix[:, cell.bands.index(band)])
