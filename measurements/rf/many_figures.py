"""Figures of N common-mode sweeps on one grid, as `common_mode` has them for one; N rows, G grid points.

All values are finite: whoever calls has set aside what is not.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

import numpy as np
import numpy.typing as npt

from . import choke_figures, common_mode, grid
from .bands import BandGrid, BandView
from .flags import Flag, flag
from .sweep import Complexes, Floats

_NONE = {"worst": None, "worst_hz": None, "centre": None, "best": None}
_ABSENT = {
    "self_resonance_hz": "no_self_resonance",
    "inductance_h": "no_inductance",
    "stray_capacitance_f": "no_stray_capacitance",
}


@dataclass(frozen=True)
class ManyFigures:
    """bands, covered, summaries, flags: one entry per test; covered: how what is covered of each band stands.

    curves: (N, 97).
    """

    bands: list[tuple[dict[str, Any], ...]]
    covered: list[tuple[bool | None, ...]]
    summaries: list[dict[str, Any]]
    flags: list[tuple[Flag, ...]]
    curves: npt.NDArray[np.complex64]


Headed = tuple[BandView, dict[str, Any]]


def views_of(on: BandGrid) -> list[Headed]:
    """Each band's place on the grid, with what its objects have in common."""
    return [(view, view.header()) for view in on.views]


def of(
    views: list[Headed],
    on: BandGrid,
    through: Complexes,
    read_db: Floats,
    z_ohm: Complexes,
    benchmark_db: float,
) -> ManyFigures:
    """Everything that differs between the tests. views: `views_of` the grid.

    through: (N, G), not zero; read_db: its rejection; z_ohm: (N, G), finite.
    """
    size_ohm = np.abs(z_ohm)
    per_band = [_band(on.freq_hz, view, read_db, z_ohm, size_ohm, benchmark_db) for view in views]
    summaries, flags = _summaries(on, through, z_ohm, read_db, benchmark_db)
    return ManyFigures(
        bands=list(zip(*(bands for bands, _ in per_band), strict=True))
        if per_band
        else [() for _ in through],
        covered=list(zip(*(meets for _, meets in per_band), strict=True))
        if per_band
        else [() for _ in through],
        summaries=summaries,
        flags=flags,
        curves=grid.single_precision(grid.resample(on.freq_hz, z_ohm)),
    )


def _band(
    freq_hz: Floats,
    headed: Headed,
    read_db: Floats,
    z_ohm: Complexes,
    size_ohm: Floats,
    benchmark_db: float,
) -> tuple[list[dict[str, Any]], list[bool | None]]:
    """One band of every test, as results have it, and whether what is covered of it meets."""
    view, header = headed
    if view.coverage == "none":
        absent = [
            {
                **header,
                "meets": None,
                "rejection_db": _NONE,
                "rejection_raw_db": _NONE,
                "rejection_compensated_db": None,
                "resistance_ohm": _NONE,
                "impedance_ohm": _NONE,
                "impedance_centre_ohm": None,
                "jig_limited": None,
            }
            for _ in read_db
        ]
        return absent, [None] * len(absent)
    rejection = _smallest(freq_hz, view, read_db)
    resistance = _smallest(freq_hz, view, z_ohm.real)
    impedance = _smallest(freq_hz, view, size_ohm)
    at = view.centre_index
    centres = (
        [None] * len(read_db)
        if at is None
        else [{"re": re + 0.0, "im": im + 0.0} for re, im in zip(*_parts(z_ohm[:, at]), strict=True)]
    )
    covered = [db["worst"] >= benchmark_db for db in rejection]
    found = [
        {
            **header,
            "meets": meets if view.judged else None,
            "rejection_db": db,
            "rejection_raw_db": db,
            "rejection_compensated_db": None,
            "resistance_ohm": ohm,
            "impedance_ohm": size,
            "impedance_centre_ohm": centre,
            "jig_limited": None,
        }
        for meets, db, ohm, size, centre in zip(
            covered, rejection, resistance, impedance, centres, strict=True
        )
    ]
    return found, covered


def _parts(values: Complexes) -> tuple[list[float], list[float]]:
    return values.real.tolist(), values.imag.tolist()


def _smallest(freq_hz: Floats, view: BandView, values: Floats) -> list[dict[str, Any]]:
    """`bands.metric` with "smallest" as the worst, for every row."""
    inside = values[:, view.inside] + 0.0  # -0.0 leaves as 0.0
    row = np.arange(len(inside))
    at_worst, at_best = inside.argmin(axis=1), inside.argmax(axis=1)
    worst, best = inside[row, at_worst].tolist(), inside[row, at_best].tolist()
    worst_hz = freq_hz[view.inside][at_worst].tolist()
    if view.centre_index is None:
        centre: list[float | None] = [None] * len(row)
    else:
        centre = (values[:, view.centre_index] + 0.0).tolist()
    return [
        {"worst": a, "worst_hz": hz, "centre": c, "best": b}
        for a, hz, c, b in zip(worst, worst_hz, centre, best, strict=True)
    ]


def _summaries(
    on: BandGrid, through: Complexes, z_ohm: Complexes, read_db: Floats, benchmark_db: float
) -> tuple[list[dict[str, Any]], list[tuple[Flag, ...]]]:
    spans = choke_figures.widest_spans(on.freq_hz, through, benchmark_db)
    freq_hz, z_ohm = on.freq_hz[on.measured], z_ohm[:, on.measured]
    resonance = choke_figures.self_resonance_hz(freq_hz, z_ohm)
    peak_ohm, peak_hz = choke_figures.peak(freq_hz, z_ohm)
    stray = choke_figures.stray_capacitance_f(freq_hz, z_ohm, resonance)
    inductance = choke_figures.inductance_h(freq_hz, z_ohm, resonance, stray)
    columns = {
        "meets_from_hz": spans[:, 0],
        "meets_to_hz": spans[:, 1],
        "self_resonance_hz": resonance,
        "peak_impedance_ohm": peak_ohm,
        "peak_impedance_hz": peak_hz,
        "inductance_h": inductance,
        "stray_capacitance_f": stray,
    }
    listed = [[None if value != value else value for value in column.tolist()] for column in columns.values()]
    doubtful = (read_db.max(axis=1) > common_mode.FLOOR_DOUBT_DB).tolist()
    not_met = flag("benchmark_not_met", benchmark_db=f"{benchmark_db:g}")
    summaries, flags = [], []
    for *values, no_floor in zip(*listed, doubtful, strict=True):
        own = dict(zip(columns, values, strict=True))
        found = [flag(code) for name, code in _ABSENT.items() if own[name] is None]
        if own["meets_from_hz"] is None:
            found.append(not_met)
        if no_floor:
            found.append(flag("floor_unknown"))
        summaries.append({"benchmark_db": benchmark_db, **own, "floor_db": None, "rejection_judged": "raw"})
        flags.append(tuple(found))
    return summaries, flags
