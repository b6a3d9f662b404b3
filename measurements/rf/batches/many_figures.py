"""Figures of N common-mode sweeps on one grid, as `common_mode` has them for one; N rows, G grid points.

All values are finite: whoever calls has set aside what is not.
"""

from __future__ import annotations

import itertools
from dataclasses import dataclass, fields
from typing import Any

import numpy as np
import numpy.typing as npt

from measurements.rf import evidence_grid
from measurements.rf.bands import BandGrid, BandView
from measurements.rf.flags import Flag, build_flag
from measurements.rf.kinds import choke_figures, common_mode
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

_NONE = {"worst": None, "worst_hz": None, "centre": None, "best": None}
_ABSENT = ("no_self_resonance", "no_inductance", "no_stray_capacitance", "benchmark_not_met", "floor_unknown")

Raised = tuple[bool, ...]


@dataclass(frozen=True)
class ManyFigures:
    """bands, covered, summaries, raised: one entry per test.

    covered: how what is covered of each band stands. raised: which flags of `flags_of` there are.
    evidence: (N, 97) complex64.
    """

    bands: list[tuple[dict[str, Any], ...]]
    covered: list[tuple[bool | None, ...]]
    summaries: list[dict[str, Any]]
    raised: list[Raised]
    evidence: npt.NDArray[np.complex64]


class Places:
    """Where the bands lie on a grid, and what their objects have in common."""

    def __init__(self, on: BandGrid) -> None:
        self.on = on
        inside = [np.arange(len(on.freq_hz))[view.inside] for view in on.views]
        self.columns = np.concatenate([np.zeros(0, dtype=np.intp), *inside])
        ends = np.cumsum([0, *map(len, inside)]).tolist()
        parts = [slice(start, stop) for start, stop in itertools.pairwise(ends)]
        self.views = [(view, _object(view), part) for view, part in zip(on.views, parts, strict=True)]
        self.hz = on.freq_hz[self.columns]
        self.measured = np.flatnonzero(on.measured)


def _object(view: BandView) -> dict[str, Any]:
    """A band's object with all that does not differ between the tests of one grid."""
    return {
        **view.header(),
        "meets": None,
        "rejection_db": _NONE,
        "rejection_raw_db": _NONE,
        "rejection_compensated_db": None,
        "resistance_ohm": _NONE,
        "impedance_ohm": _NONE,
        "impedance_centre_ohm": None,
        "jig_limited": None,
    }


@dataclass(frozen=True)
class Curves:
    """(N, G) each. through: S21, not zero; size: |S21|; read_db: its rejection; z_ohm: finite."""

    through: Complexes
    size: Floats
    read_db: Floats
    z_ohm: Complexes
    size_ohm: Floats

    def rows(self, which: Bools) -> Curves:
        """Those of some tests. which: (N,)."""
        if which.all():
            return self
        return Curves(*(getattr(self, one.name)[which] for one in fields(self)))


@dataclass(frozen=True)
class Shown:
    """Some points of these curves alone, as `Curves` has them."""

    read_db: Floats
    z_ohm: Complexes
    size_ohm: Floats

    @classmethod
    def at(cls, curves: Curves | Shown, at: npt.NDArray[np.intp]) -> Shown:
        """at: which points."""
        return cls(*(np.take(getattr(curves, one.name), at, axis=1) for one in fields(cls)))


def compute_many_figures(places: Places, curves: Curves, measured: Shown, benchmark_db: float) -> ManyFigures:
    """Everything that differs between the tests. measured: the curves at measured points alone."""
    bands, covered = _bands(places, curves, benchmark_db)
    summaries, raised = _summaries(places, curves, measured, benchmark_db)
    evidence = evidence_grid.to_single_precision(
        evidence_grid.resample_to_grid(places.on.freq_hz, curves.z_ohm)
    )
    return ManyFigures(bands, covered, summaries, raised, evidence)


def _bands(
    places: Places, curves: Curves, benchmark_db: float
) -> tuple[list[tuple[dict[str, Any], ...]], list[tuple[bool | None, ...]]]:
    """The bands of every test, as results have them, and whether what is covered of each meets."""
    tests = len(curves.z_ohm)
    near_ohm = np.take(curves.z_ohm, places.columns, axis=1) + 0.0  # -0.0 leaves as 0.0
    near = np.empty((3, *near_ohm.shape))
    near[0] = np.take(curves.read_db, places.columns, axis=1)
    near[1] = near_ohm.real
    near[2] = np.take(curves.size_ohm, places.columns, axis=1)
    near += 0.0
    bands, covered = [], []
    for view, common, part in places.views:
        if view.coverage == "none":
            bands.append([common.copy() for _ in range(tests)])
            covered.append([None] * tests)
            continue
        at = None if view.centre_index is None else part.start + view.centre_index - view.inside.start
        rejection, resistance, impedance = _smallest(
            near[:, :, part], places.hz[part], None if at is None else near[:, :, at]
        )
        centres = [None] * tests if at is None else _complex_numbers(near_ohm[:, at])
        meets = [db["worst"] >= benchmark_db for db in rejection]
        found = []
        for met, db, ohm, size, centre in zip(meets, rejection, resistance, impedance, centres, strict=True):
            own = common.copy()
            own["rejection_db"] = own["rejection_raw_db"] = db
            own["resistance_ohm"], own["impedance_ohm"], own["impedance_centre_ohm"] = ohm, size, centre
            if view.judged:
                own["meets"] = met
            found.append(own)
        bands.append(found)
        covered.append(meets)
    if not bands:
        return [()] * tests, [()] * tests
    return list(zip(*bands, strict=True)), list(zip(*covered, strict=True))


def _complex_numbers(values: Complexes) -> list[dict[str, float]]:
    return [{"re": re, "im": im} for re, im in zip(values.real.tolist(), values.imag.tolist(), strict=True)]


def _smallest(inside: Floats, freq_hz: Floats, centre: Floats | None) -> list[list[dict[str, Any]]]:
    """`bands.metric` with "smallest" as the worst, for every row of each quantity.

    inside: (3, N, B) within one band, centre: (3, N).
    """
    at_worst = inside.argmin(axis=2)
    worst = np.take_along_axis(inside, at_worst[:, :, None], axis=2)[:, :, 0]
    columns = [worst.tolist(), freq_hz[at_worst].tolist(), inside.max(axis=2).tolist()]
    centres = [[None] * inside.shape[1]] * len(inside) if centre is None else centre.tolist()
    return [
        [{"worst": a, "worst_hz": hz, "centre": c, "best": b} for a, hz, b, c in zip(*quantity, strict=True)]
        for quantity in zip(*columns, centres, strict=True)
    ]


def _summaries(
    places: Places, curves: Curves, measured: Shown, benchmark_db: float
) -> tuple[list[dict[str, Any]], list[Raised]]:
    on = places.on
    spans = choke_figures.find_widest_spans(on.freq_hz, curves.through, curves.size, benchmark_db)
    found = choke_figures.compute_choke_figures(
        on.freq_hz[places.measured], measured.z_ohm, measured.size_ohm
    )
    columns = [
        spans[:, 0],
        spans[:, 1],
        found.self_resonance_hz,
        found.peak_impedance_ohm,
        found.peak_impedance_hz,
        found.inductance_h,
        found.stray_capacitance_f,
    ]
    summaries = [
        {
            "benchmark_db": benchmark_db,
            "meets_from_hz": start,
            "meets_to_hz": stop,
            "self_resonance_hz": resonance,
            "peak_impedance_ohm": peak_ohm,
            "peak_impedance_hz": peak_hz,
            "inductance_h": inductance,
            "stray_capacitance_f": stray,
            "floor_db": None,
            "rejection_judged": "raw",
        }
        for start, stop, resonance, peak_ohm, peak_hz, inductance, stray in zip(
            *map(_listed, columns), strict=True
        )
    ]
    raised = [
        np.isnan(found.self_resonance_hz),
        np.isnan(found.inductance_h),
        np.isnan(found.stray_capacitance_f),
        np.isnan(spans[:, 0]),
        curves.read_db.max(axis=1) > common_mode.FLOOR_DOUBT_DB,
    ]
    return summaries, list(zip(*(each.tolist() for each in raised), strict=True))


def _listed(values: Floats) -> list[float | None]:
    """NaN as None."""
    listed: list[float | None] = values.tolist()
    return [None if value != value else value for value in listed] if np.isnan(values).any() else listed


def list_missing_figure_flags(raised: Raised, benchmark_db: float) -> list[Flag]:
    """Flags for what a summary lacks."""
    values = {"benchmark_not_met": {"benchmark_db": f"{benchmark_db:g}"}}
    return [
        build_flag(code, **values.get(code, {})) for code, there in zip(_ABSENT, raised, strict=True) if there
    ]
