"""What each circle's model learns from: the cells of the current release, as that circle itself may see them.

Members: the published medians of resistance and reactance, and the released curves of single devices, for
how they spread. The public: the median of rejection in steps of 0.5 dB and the lower end of the count's
band, exactly what its design pages show; no percentile, no curve, no count. A model of the public is
therefore a function of public figures, and nothing can be read from it that was not there to be read.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np

from measurements.disclosure import evidence_view
from measurements.disclosure.circles import Circle
from measurements.ingest.arrays import CURVE
from measurements.models import Cell, Conductor, Core, EvidenceSample, Mix, group
from measurements.rf import wound
from measurements.rf.bands import Band
from measurements.rf.design_evidence import FEWEST_POINTS, DesignEvidence
from measurements.rf.ferrite import Permeability
from measurements.rf.grid import GRID_HZ
from measurements.rf.sweep import Complexes, Floats
from measurements.rf.validating import WorstInBand

EVERY = slice(None, None, 3)  # of the grid's 97 frequencies: curves are smooth from one third to the next
MOST_CURVES = 12  # of one design, and
MOST_SPREAD = 150  # designs whose curves are read: enough to see how builds spread
_WORST = np.dtype("<f4")


@dataclass(frozen=True)
class Heard:
    """The evidence of one circle, and per design its published worst-in-band figures."""

    tables: dict[str, Permeability]
    evidence: list[DesignEvidence]
    worst: dict[str, WorstInBand]


def of_circle(circle: Circle, bands: tuple[Band, ...]) -> Heard:
    """All that this circle's model may learn from, of the newest release."""
    least = evidence_view.least_contributors(circle, group.thresholds())
    cells = list(_cells(least))
    curves = _curves(cells) if circle == "members" else {}
    evidence, worst = [], {}
    for cell, winding in cells:
        seen = _of_members(cell, winding, curves) if circle == "members" else _of_public(cell, winding, least)
        if seen is not None:
            evidence.append(seen)
            worst[seen.key] = _worst(cell, seen, bands)
    return Heard(tables(), evidence, worst)


def tables() -> dict[str, Permeability]:
    """The published permeability tables by mix."""
    found = {}
    for name, rows in Mix.objects.order_by("name").values_list("name", "rows"):
        if len(rows) >= 2:
            freq_hz, real, imag = np.array(rows, dtype=np.float64).T
            found[name] = Permeability(freq_hz, real, imag)
    return found


def _cells(least: int) -> Iterator[tuple[Cell, wound.Wound]]:
    """Cells with curves that enough people stand behind, of windings that the model reaches."""
    columns = ("part", "outer_mm", "inner_mm", "height_mm")
    rings = Core.objects.filter(shape__in=("toroid", "bead")).values_list(*columns)
    sizes_mm = {row[0]: tuple(row[1:]) for row in rings if None not in row}
    wires_mm = dict(Conductor.objects.values_list("name", "outer_mm"))
    found = Cell.objects.filter(last_release=None, contributors__gte=least).select_related("design")
    for cell in found.order_by("design__key"):
        winding = wound.of_recipe(cell.design.recipe, sizes_mm, wires_mm) if cell.curves else None
        if winding is not None:
            yield cell, winding


def _curves(cells: list[tuple[Cell, wound.Wound]]) -> dict[Any, list[bytes]]:
    """Released curves of single devices by cell, of at most 150 cells and 12 of each."""
    step = max(len(cells) // MOST_SPREAD, 1)
    chosen = [cell.pk for cell, _ in cells[::step]][:MOST_SPREAD]
    found: dict[Any, list[bytes]] = {}
    rows = EvidenceSample.objects.filter(cell__in=chosen).order_by("id").values_list("cell_id", "curve")
    for cell_id, curve in rows.iterator():
        own = found.setdefault(cell_id, [])
        if len(own) < MOST_CURVES:
            own.append(bytes(curve))
    return found


def _of_members(cell: Cell, winding: wound.Wound, curves: Mapping[Any, list[bytes]]) -> DesignEvidence | None:
    z_ohm = _listed(cell, "resistance_ohm") + 1j * _listed(cell, "reactance_ohm")
    known = np.isfinite(z_ohm) & (np.abs(np.nan_to_num(z_ohm)) > 0)
    if np.count_nonzero(known) < FEWEST_POINTS:
        return None
    single: Complexes = np.zeros((0, int(known.sum())), dtype=np.complex128)
    if curves.get(cell.pk):
        all_ohm = np.array([np.frombuffer(each, CURVE)[EVERY] for each in curves[cell.pk]])
        single = all_ohm[:, known].astype(np.complex128)
    return DesignEvidence(
        cell.design.key, winding, cell.devices, GRID_HZ[EVERY][known], z_ohm=z_ohm[known], curves_ohm=single
    )


def _of_public(cell: Cell, winding: wound.Wound, least: int) -> DesignEvidence | None:
    enough = np.array(cell.curves["contributors"])[EVERY] >= least
    rejection_db = np.where(enough, evidence_view.coarse_db(_listed(cell, "rejection_db")), np.nan)
    known = np.isfinite(rejection_db)
    if np.count_nonzero(known) < FEWEST_POINTS:
        return None
    devices = int(evidence_view.coarse_count(cell.devices))
    return DesignEvidence(
        cell.design.key, winding, devices, GRID_HZ[EVERY][known], rejection_db=rejection_db[known]
    )


def _listed(cell: Cell, name: str) -> Floats:
    return np.array(cell.curves[name]["median"], dtype=np.float64)[EVERY]


def _worst(cell: Cell, seen: DesignEvidence, bands: tuple[Band, ...]) -> WorstInBand:
    """Members: every device's figure. The public: what its rounded median curve shows at the edges of
    bands.
    """
    found: Floats
    if seen.rejection_db is None:
        matrix = np.frombuffer(bytes(cell.worst_db), _WORST).reshape(cell.devices, -1).astype(np.float64)
        found = np.full((cell.devices, len(bands)), np.nan)
        for column, band in enumerate(bands):
            if band.name in cell.bands:
                found[:, column] = matrix[:, cell.bands.index(band.name)]
        return WorstInBand(found, single=True)
    edges_hz = np.array([[band.start_hz, band.stop_hz] for band in bands])
    at_edges = np.interp(edges_hz, seen.freq_hz, seen.rejection_db, left=np.nan, right=np.nan)
    return WorstInBand(at_edges.min(axis=1)[None, :], single=False)
