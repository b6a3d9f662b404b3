"""From the curves of a choke to the figures of a result: bands, summary, and what is missing.

N sweeps on one grid go through at once, and one sweep is N = 1: there is no other way to a figure.
NaN is a value that does not exist, as where nothing gets through.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, fields
from functools import cached_property
from typing import Any

import numpy as np
import numpy.typing as npt

from measurements.rf import evidence_grid
from measurements.rf.bands import BandGrid, BandView, compute_band_metrics
from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments import jig
from measurements.rf.instruments.decision import DECISIONS, MEETS, Decision, build_decision
from measurements.rf.instruments.impossible_figures import (
    IMPOSSIBLE_GAIN,
    NEGATIVE_RESISTANCE,
    find_below_zero,
    flag_impossible_points,
)
from measurements.rf.kinds import choke_figures, jig_bounds
from measurements.rf.kinds.choke_uncertainty import ChokeUncertainty
from measurements.rf.networks import series_through
from measurements.rf.sweeps.sweep import Bools, Complexes, Floats

FLOOR_DOUBT_DB = 40.0  # house default: no clips of a usual bench let through more than this by themselves
_SUMMARY_NAMES = (
    "meets_from_hz",
    "meets_to_hz",
    "self_resonance_hz",
    "peak_impedance_ohm",
    "peak_impedance_hz",
    "inductance_h",
    "stray_capacitance_f",
)
_UNCERTAIN = ("rejection_db", "resistance_ohm", "impedance_ohm")
_ABSENT = ("no_self_resonance", "no_inductance", "no_stray_capacitance")

Raised = tuple[int, ...]


@dataclass(frozen=True)
class ChokeCurves:
    """Curves (N, G) on one grid: transmissions relative to a direct connection, and Zcm.

    raw, normalised, compensated: complex transmission, the last None without open and short;
    z_ohm: None where there is no phase; floor_db: (G,), None without an open jig.
    label: which of the three is judged.
    """

    raw: Complexes
    normalised: Complexes
    compensated: Complexes | None
    z_ohm: Complexes | None
    floor_db: Floats | None
    label: str

    @property
    def judged(self) -> Complexes:
        """Choose the transmission that is judged."""
        return self.normalised if self.compensated is None else self.compensated

    @cached_property
    def judged_size(self) -> Floats:
        """Compute |transmission| of what is judged."""
        return np.abs(self.judged)

    @cached_property
    def judged_db(self) -> Floats:
        """Compute the rejection that is judged."""
        return series_through.rejection_from_size_db(self.judged_size)

    @cached_property
    def raw_db(self) -> Floats:
        """Compute the rejection as the file has it."""
        return self.judged_db if self.raw is self.judged else series_through.rejection_db(self.raw)

    @cached_property
    def normalised_db(self) -> Floats:
        """Compute the rejection without the jig's through."""
        return (
            self.judged_db if self.normalised is self.judged else series_through.rejection_db(self.normalised)
        )

    @cached_property
    def size_ohm(self) -> Floats:
        """Compute |Zcm|, NaN where there is no phase."""
        return np.full(self.raw.shape, np.nan) if self.z_ohm is None else np.abs(self.z_ohm)

    @cached_property
    def near_floor(self) -> Bools | None:
        """Return (N, G) where a reading is within 10 dB of the open jig and the jig was not taken out."""
        if self.floor_db is None or self.compensated is not None:
            return None
        return np.asarray(self.normalised_db > self.floor_db - jig.FLOOR_MARGIN_DB)

    @cached_property
    def certain_db(self) -> tuple[Floats, Floats]:
        """Return the least and the greatest rejection that is certain: the reading itself away from the
        floor.
        """
        near = self.near_floor
        if near is None or self.floor_db is None or not near.any():
            return self.judged_db, self.judged_db
        least, greatest = jig_bounds.compute_rejection_bounds(
            self.normalised, self.floor_db, phase_known=self.z_ohm is not None
        )
        return np.where(near, least, self.judged_db), np.where(near, greatest, self.judged_db)

    def select_rows(self, which: Bools) -> ChokeCurves:
        """Keep those of some sweeps. which: (N,)."""
        if which.all():
            return self
        kept: dict[str, Any] = {}
        for each in fields(self):
            value = getattr(self, each.name)
            kept[each.name] = value[which] if isinstance(value, np.ndarray) and value.ndim == 2 else value
        return ChokeCurves(**kept)


@dataclass(frozen=True)
class ChokeResults:
    """bands, covered, summaries, raised: one entry for each of N sweeps.

    covered: whether what the sweep covers of each band meets. raised: counts of what `list_absence_flags`
    tells. evidence: (N, 97) complex64, None without phase.
    """

    bands: list[tuple[dict[str, Any], ...]]
    covered: list[tuple[bool | None, ...]]
    summaries: list[dict[str, Any]]
    raised: list[Raised]
    evidence: npt.NDArray[np.complex64] | None


def compute_choke_results(
    on: BandGrid, curves: ChokeCurves, spread: ChokeUncertainty, benchmark_db: float
) -> ChokeResults:
    """Compute everything that differs between sweeps of one grid, band plan, benchmark and jig."""
    values = _stack_values(curves)
    least = _stack_least(values, spread)
    bands, covered = [], []
    for view in on.views:
        found, meets = _describe_band(on, view, curves, values, least, benchmark_db)
        bands.append(found)
        covered.append(meets)
    summaries, raised = _summarise(on, curves, benchmark_db)
    evidence = None
    if curves.z_ohm is not None:
        on_grid = evidence_grid.resample_to_grid(on.freq_hz, curves.z_ohm)
        evidence = evidence_grid.to_single_precision(on_grid)
    tests = len(curves.raw)
    return ChokeResults(
        list(zip(*bands, strict=True)) if bands else [()] * tests,
        list(zip(*covered, strict=True)) if covered else [()] * tests,
        summaries,
        raised,
        evidence,
    )


def _stack_values(curves: ChokeCurves) -> Floats:
    """Return stack (Q, N, G) certain rejection, resistance, |Zcm|; and raw rejection if it is another
    curve.
    """
    count = 3 + _has_own_raw(curves)
    values = np.empty((count, *curves.raw.shape))
    values[0] = curves.certain_db[0]
    values[1] = np.nan if curves.z_ohm is None else curves.z_ohm.real
    values[2] = curves.size_ohm
    if count > 3:
        values[3] = curves.raw_db
    return values


def _stack_least(values: Floats, spread: ChokeUncertainty) -> Floats:
    """Return (3, N, G) what judged rejection, resistance and |Zcm| are at least, by their uncertainty."""
    least = np.empty((3, *values.shape[1:]))
    with np.errstate(invalid="ignore"):
        np.subtract(values[0], spread.rejection_db, out=least[0])
        np.subtract(values[1], spread.resistance_ohm, out=least[1])
        np.subtract(values[2], spread.impedance_ohm, out=least[2])
    silent = ~np.isfinite(least[0])  # no signal was seen: no figure, and yet a least one
    least[0][silent] = spread.least_db[silent]
    return least


def _find_uncertainty(worst: Floats, lowest: Floats) -> Floats:
    """Return U (3, N) of the worst figures of a band; NaN where it is not known. lowest: of what they are
    at least.

    Another point that is better, but less certain, may truly be the worst one: U reaches to the least value
    that any point of the band allows.
    """
    found: Floats = worst - lowest
    found[~np.isfinite(found)] = np.nan
    return found


def _decide_rows(worst: Floats, least: Floats, uncertainty: Floats, benchmark_db: float) -> list[Decision]:
    """Return the decision on each row's rejection. worst, uncertainty: (N,); least: (N,) that the band
    allows.
    """
    choice = np.full(worst.shape, 2)
    choice[least >= benchmark_db] = 0
    choice[worst + uncertainty <= benchmark_db] = 1
    choice[np.isnan(worst)] = 3
    return [DECISIONS[each] for each in choice.tolist()]


def _describe_band(
    on: BandGrid,
    view: BandView,
    curves: ChokeCurves,
    values: Floats,
    least: Floats,
    benchmark_db: float,
) -> tuple[list[dict[str, Any]], list[bool | None]]:
    """List the band's object of every sweep, and whether what is covered of it meets."""
    tests = len(curves.raw)
    metrics = compute_band_metrics(view, on.freq_hz, values, "smallest")
    rows = metrics.as_dicts()
    worst = metrics.worst[:3]
    lowest = np.fmin.reduce(least[:, :, view.inside], axis=2, initial=np.inf)
    spread = _find_uncertainty(worst, lowest)
    decisions = _decide_rows(worst[0], lowest[0], spread[0], benchmark_db)
    limited = _find_jig_limited(view, curves)
    bounded = [bool(near) and curves.compensated is None for near in limited]
    decisions = _withhold_uncertain(view, curves, decisions, bounded, benchmark_db)
    columns = _list_finite(spread.ravel())
    known = [dict(zip(_UNCERTAIN, columns[row::tests], strict=True)) for row in range(tests)]
    centres = _list_centres(view, curves)
    judged, resistance, impedance = (rows[q * tests : (q + 1) * tests] for q in range(3))
    raw = rows[3 * tests :] or judged
    found = [
        {
            **build_decision(decision if view.judged else "not_judged"),
            "uncertainty": uncertainty,
            "rejection_db": judged_db,
            "rejection_raw_db": raw_db,
            "rejection_compensated_db": None if curves.compensated is None else judged_db,
            "resistance_ohm": resistance_ohm,
            "impedance_ohm": size_ohm,
            "impedance_centre_ohm": centre,
            "jig_limited": near,
            "judged_by_bound": by_bound,
        }
        for decision, uncertainty, judged_db, raw_db, resistance_ohm, size_ohm, centre, near, by_bound in zip(
            decisions, known, judged, raw, resistance, impedance, centres, limited, bounded, strict=True
        )
    ]
    return found, [MEETS[decision] for decision in decisions]


def _has_own_raw(curves: ChokeCurves) -> bool:
    """Say whether the raw rejection is another curve than the one that is judged."""
    return curves.label != "raw" or bool(curves.near_floor is not None and curves.near_floor.any())


def _withhold_uncertain(
    view: BandView,
    curves: ChokeCurves,
    decisions: list[Decision],
    bounded: list[bool],
    benchmark_db: float,
) -> list[Decision]:
    """Take away a failure that only the lower bound shows: the device may still meet."""
    greatest = curves.certain_db[1][:, view.inside]
    if not any(bounded) or not greatest.shape[1]:
        return decisions
    may_meet = (np.fmin.reduce(greatest, axis=1) >= benchmark_db).tolist()
    return [
        "too_close" if by_bound and decision == "falls_short" and may else decision
        for decision, by_bound, may in zip(decisions, bounded, may_meet, strict=True)
    ]


def _list_centres(view: BandView, curves: ChokeCurves) -> list[dict[str, float] | None]:
    """List Zcm at the band's centre as {"re", "im"}; None where it is unknown."""
    if curves.z_ohm is None or view.centre_index is None:
        return [None] * len(curves.raw)
    values = curves.z_ohm[:, view.centre_index] + 0.0  # -0.0 leaves as 0.0
    known = np.isfinite(values).tolist()
    parts = zip(values.real.tolist(), values.imag.tolist(), known, strict=True)
    return [{"re": re, "im": im} if there else None for re, im, there in parts]


def _find_jig_limited(view: BandView, curves: ChokeCurves) -> list[bool | None]:
    """Tell whether any point of a band comes within 10 dB of the open jig; None where nobody can tell."""
    if curves.floor_db is None or view.coverage == "none":
        return [None] * len(curves.raw)
    inside = view.inside
    near = curves.normalised_db[:, inside] > curves.floor_db[inside] - jig.FLOOR_MARGIN_DB
    limited: Bools = np.asarray(near.any(axis=1))
    return list(limited.tolist())


def _summarise(
    on: BandGrid, curves: ChokeCurves, benchmark_db: float
) -> tuple[list[dict[str, Any]], list[Raised]]:
    """List the figures of whole sweeps, and counts of what does not exist."""
    tests = len(curves.raw)
    spans = choke_figures.find_widest_spans(on.freq_hz, curves.judged, curves.judged_size, benchmark_db)
    columns = [spans[:, 0], spans[:, 1], *_find_impedance_figures(on, curves)]
    floor_db = None if curves.floor_db is None else float(np.min(curves.floor_db)) + 0.0
    last = {
        "floor_db": floor_db if floor_db is not None and np.isfinite(floor_db) else None,
        "rejection_judged": curves.label,
    }
    summaries = [
        {"benchmark_db": benchmark_db, **dict(zip(_SUMMARY_NAMES, values, strict=True)), **last}
        for values in zip(*map(_list_finite, columns), strict=True)
    ]
    raised = np.zeros((6, tests), dtype=np.intp)
    if curves.z_ohm is not None:
        raised[:3] = ~np.isfinite(np.stack([columns[2], columns[5], columns[6]]))
        raised[3] = np.isnan(curves.size_ohm[:, on.measured]).sum(axis=1)
    raised[4] = np.isnan(spans[:, 0])
    if curves.floor_db is None:
        raised[5] = np.fmax.reduce(curves.judged_db, axis=1, initial=-np.inf) > FLOOR_DOUBT_DB
    return summaries, list(map(tuple, raised.T.tolist()))


def _find_impedance_figures(on: BandGrid, curves: ChokeCurves) -> list[Floats]:
    """Find resonance, peak and its frequency, inductance and stray capacitance, (N,) each."""
    if curves.z_ohm is None:
        return [np.full(len(curves.raw), np.nan)] * 5
    at = np.flatnonzero(on.measured)
    found = choke_figures.compute_choke_figures(
        on.freq_hz[at], np.take(curves.z_ohm, at, axis=1), np.take(curves.size_ohm, at, axis=1)
    )
    return [
        found.self_resonance_hz,
        found.peak_impedance_ohm,
        found.peak_impedance_hz,
        found.inductance_h,
        found.stray_capacitance_f,
    ]


def _list_finite(values: Floats) -> list[float | None]:
    listed: list[float | None] = (values + 0.0).tolist()
    finite = np.isfinite(values)
    if finite.all():
        return listed
    return [value if there else None for value, there in zip(listed, finite.tolist(), strict=True)]


def list_absence_flags(raised: Raised, benchmark_db: float) -> list[Flag]:
    """Build the flags on what a summary lacks."""
    flags = [build_flag(code) for code, there in zip(_ABSENT, raised[:3], strict=True) if there]
    if raised[3]:
        reason = "nothing gets through, or a correction divides by zero"
        flags.append(build_flag("undefined_points", count=raised[3], quantity="the impedance", reason=reason))
    if raised[4]:
        flags.append(build_flag("benchmark_not_met", benchmark_db=f"{benchmark_db:g}"))
    if raised[5]:
        flags.append(build_flag("floor_unknown"))
    return flags


def list_jig_limited_flags(on: BandGrid, bands: Sequence[dict[str, Any]]) -> tuple[Flag, ...]:
    """Build a flag for every band of a sweep that comes near the open jig."""
    found = []
    for view, band in zip(on.views, bands, strict=True):
        if band["jig_limited"]:
            found.append(build_flag("jig_limited", band=view.band.name, meaning=_explain_limit(band)))
    return tuple(found)


def find_impossible_rows(curves: ChokeCurves, spread: ChokeUncertainty) -> Bools:
    """Tell of each sweep (N,) whether it shows gain, or a resistance below zero, beyond the uncertainty."""
    gain = find_below_zero(curves.judged_db, spread.rejection_db).any(axis=1)
    if curves.z_ohm is None:
        return np.asarray(gain)
    return np.asarray(gain | find_below_zero(curves.z_ohm.real, spread.resistance_ohm).any(axis=1))


def list_impossible_flags(on: BandGrid, curves: ChokeCurves, spread: ChokeUncertainty) -> tuple[Flag, ...]:
    """Build the flags on gain, and on a resistance below zero, beyond the uncertainty; of one sweep."""
    gain = find_below_zero(curves.judged_db, spread.rejection_db)[0]
    check = "that nothing amplifies between the ports, and that the calibration holds"
    flags = flag_impossible_points(
        on, gain, curves.judged_db[0], codes=IMPOSSIBLE_GAIN, unit=" dB", check=check
    )
    if curves.z_ohm is None:
        return flags
    below = find_below_zero(curves.z_ohm.real, spread.resistance_ohm)[0]
    return flags + flag_impossible_points(
        on, below, curves.z_ohm.real[0], codes=NEGATIVE_RESISTANCE, unit=" ohm"
    )


def _explain_limit(band: dict[str, Any]) -> str:
    """Say what is certain of a band near the open jig."""
    worst = band["rejection_db"]["worst"]
    if not band["judged_by_bound"]:
        return "The jig was taken out of this figure; near the floor it is only as good as both jig sweeps."
    if worst is None:
        return "Nothing is certain of it. Sweep the jig open and linked, and it is taken out."
    return (
        f"Certain is at least {worst:.1f} dB, and the band is judged by that. Sweep the jig open and linked, "
        "and it is taken out."
    )


def list_traces(curves: ChokeCurves, at: npt.NDArray[np.intp] | slice) -> dict[str, Floats]:
    """Take the curves that a result shows at some points: (N, points) each; the floor (points,)."""
    rejection_db = curves.judged_db[:, at]
    traces = {
        "rejection_db": rejection_db,
        "rejection_raw_db": rejection_db if curves.raw is curves.judged else curves.raw_db[:, at],
    }
    if curves.z_ohm is not None:
        z_ohm = curves.z_ohm[:, at]
        traces["resistance_ohm"], traces["impedance_ohm"] = z_ohm.real, curves.size_ohm[:, at]
        traces["reactance_ohm"] = z_ohm.imag
    if curves.floor_db is not None:
        traces["floor_db"] = curves.floor_db[at]
    return traces
