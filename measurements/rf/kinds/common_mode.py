"""Kind `common_mode`: does it choke? Rejection and Zcm of the device as one series impedance.

Rejection as the file has it (raw) and after the jig's corrections are both kept; `rejection_judged` in
the summary says which one `rejection_db` and `meets` are: `raw`, `normalised` (divided by the jig's
through) or `compensated` (open and short taken out, rejection recomputed from Zdut).
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cached_property
from typing import Any

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf import evidence_grid
from measurements.rf.bands import (
    BandGrid,
    BandView,
    build_band_grid,
    compute_band_metric,
    cut_sweep,
    judge_covered_part,
    resample_sweep,
)
from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments import jig, sweep_checks
from measurements.rf.kinds import choke_figures
from measurements.rf.networks import series_through
from measurements.rf.request import Computed, Request
from measurements.rf.sweeps.result_values import to_json_complex, to_json_number
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep

FLOOR_DOUBT_DB = 40.0  # house default: no clips of a usual bench let through more than this by themselves


@dataclass(frozen=True)
class ChokeCurves:
    """Everything on one grid, (G,): transmissions relative to a direct connection, and Zcm.

    raw, judged: complex transmission; compensated: None without open and short;
    z_ohm: None where there is no phase; floor_db: None without an open jig.
    """

    method: series_through.ImpedanceMethod
    raw: Complexes
    normalised: Complexes
    compensated: Complexes | None
    z_ohm: Complexes | None
    floor_db: Floats | None
    label: str

    @property
    def judged(self) -> Complexes:
        return self.normalised if self.compensated is None else self.compensated

    @cached_property
    def judged_db(self) -> Floats:
        return series_through.rejection_db(self.judged)

    @cached_property
    def raw_db(self) -> Floats:
        return series_through.rejection_db(self.raw)

    @cached_property
    def normalised_db(self) -> Floats:
        return series_through.rejection_db(self.normalised)

    @cached_property
    def impedance_ohm(self) -> tuple[Floats, Floats]:
        """Resistance and magnitude of Zcm, NaN where there is no phase."""
        if self.z_ohm is None:
            unknown = np.full(self.raw.size, np.nan)
            return unknown, unknown
        return self.z_ohm.real, np.abs(self.z_ohm)


def compute(request: Request) -> Computed:
    """Figures of a common-mode test, per band and in the summary.

    Roles: `sweep`; `jig_through`, `jig_open`, `jig_short`. Raises BenchnightError `common_mode.*`, `jig.*`.
    """
    test = request.sweep()
    method = series_through.choose_impedance_method(test, request.method)
    if test.magnitude_only and method != "s21":
        raise BenchnightError(
            "common_mode.no_phase",
            "A reflection without phase says nothing about a choke. Save S21, or S11 with its phase.",
            field="sweep",
        )
    gear = jig.select_jig_sweeps(request.sweeps, test, request.bands)
    test = cut_sweep(test, gear.start_hz, gear.stop_hz)
    on = build_band_grid(test.freq_hz, request.bands)
    choke, flags = measure_choke(resample_sweep(test, on.freq_hz), method, gear.on(on.freq_hz))
    summary, absent = _summary(request, on, choke)
    checks = sweep_checks.flag_common_mode_wiring(on.freq_hz, choke.normalised, test, choke.floor_db)
    return Computed(
        method=method,
        grid=on,
        band_metrics=tuple(_in_band(request, on, view, choke) for view in on.views),
        summary=summary,
        flags=(*gear.flags, *flags, *absent, *_jig_limited(on, choke), *checks),
        traces=_traces(choke),
        main=test,
        evidence=_evidence(on, choke),
    )


def measure_choke(
    test: Sweep, method: series_through.ImpedanceMethod, gear: dict[str, Sweep]
) -> tuple[ChokeCurves, tuple[Flag, ...]]:
    """The test (on the grid) with what the jig's sweeps allow."""
    around = series_through.loop_ohm(test, method)
    flags: tuple[Flag, ...] = ()
    plain, label = test, "raw"
    if "jig_through" in gear and method != "s11":
        plain, flags = jig.normalise_by_through(test, gear["jig_through"])
        gear = {role: jig.normalise_by_through(sweep, gear["jig_through"])[0] for role, sweep in gear.items()}
        label = "normalised"
    if test.magnitude_only:
        raw, clean = _s21(test, around), _s21(plain, around)
        return ChokeCurves(method, raw, clean, None, None, _floor(gear, method), label), flags
    z_ohm = series_through.compute_series_impedance(plain, method)
    raw = series_through.compute_transmission(z_ohm, around) if method == "s11" else _s21(test, around)
    clean = raw if method == "s11" else _s21(plain, around)
    compensated = None
    if {"jig_open", "jig_short"} <= set(gear):
        z_ohm = jig.compensate_jig(z_ohm, gear["jig_open"], gear["jig_short"], method)
        compensated, label = series_through.compute_transmission(z_ohm, around), "compensated"
    return ChokeCurves(method, raw, clean, compensated, z_ohm, _floor(gear, method), label), flags


def _s21(test: Sweep, around_ohm: float) -> Complexes:
    """S21 relative to a direct connection of the same ports (1 with equal references)."""
    direct = 2.0 * np.sqrt(test.z0_ohm[0] * test.z0_ohm[1]) / around_ohm
    ratio: Complexes = test.column(1, 0) / direct
    return ratio


def _floor(gear: dict[str, Sweep], method: series_through.ImpedanceMethod) -> Floats | None:
    return jig.jig_floor_db(gear["jig_open"]) if "jig_open" in gear and method != "s11" else None


def _in_band(request: Request, on: BandGrid, view: BandView, choke: ChokeCurves) -> dict[str, Any]:
    benchmark = request.limits.benchmark_db
    rejection = compute_band_metric(view, on.freq_hz, choke.judged_db, "smallest")
    covered = judge_covered_part(view, choke.judged_db, "smallest", benchmark)
    resistance_ohm, size_ohm = choke.impedance_ohm
    centre = None if choke.z_ohm is None or view.centre_index is None else choke.z_ohm[view.centre_index]
    return {
        "meets": covered if view.judged else None,
        "covered_meets": covered,
        "rejection_db": rejection,
        "rejection_raw_db": rejection
        if choke.label == "raw"
        else compute_band_metric(view, on.freq_hz, choke.raw_db, "smallest"),
        "rejection_compensated_db": None if choke.compensated is None else rejection,
        "resistance_ohm": compute_band_metric(view, on.freq_hz, resistance_ohm, "smallest"),
        "impedance_ohm": compute_band_metric(view, on.freq_hz, size_ohm, "smallest"),
        "impedance_centre_ohm": to_json_complex(centre),
        "jig_limited": _limited(view, choke),
    }


def _limited(view: BandView, choke: ChokeCurves) -> bool | None:
    """Whether any point of a band comes within 10 dB of the open jig; None where nobody can tell."""
    if choke.floor_db is None or view.coverage == "none":
        return None
    inside = view.inside
    return bool((choke.normalised_db[inside] > choke.floor_db[inside] - jig.FLOOR_MARGIN_DB).any())


def _jig_limited(on: BandGrid, choke: ChokeCurves) -> tuple[Flag, ...]:
    found = []
    for view in on.views:
        if _limited(view, choke):
            worst = compute_band_metric(view, on.freq_hz, choke.judged_db, "smallest")["worst"]
            at_least = "an unknown number of" if worst is None else f"{worst:.1f}"
            found.append(build_flag("jig_limited", band=view.band.name, at_least_db=at_least))
    return tuple(found)


def _summary(request: Request, on: BandGrid, choke: ChokeCurves) -> tuple[dict[str, Any], tuple[Flag, ...]]:
    """Figures of the whole sweep, and a flag for each one that does not exist."""
    benchmark = request.limits.benchmark_db
    span = choke_figures.find_widest_span(on.freq_hz, choke.judged, benchmark)
    figures, flags = _impedance_figures(on, choke)
    if span is None:
        flags = (*flags, build_flag("benchmark_not_met", benchmark_db=f"{benchmark:g}"))
    floor = None if choke.floor_db is None else to_json_number(np.min(choke.floor_db))
    if choke.floor_db is None and np.nanmax(choke.judged_db, initial=-np.inf) > FLOOR_DOUBT_DB:
        flags = (*flags, build_flag("floor_unknown"))
    summary = {
        "benchmark_db": benchmark,
        "meets_from_hz": None if span is None else to_json_number(span[0]),
        "meets_to_hz": None if span is None else to_json_number(span[1]),
        **figures,
        "floor_db": floor,
        "rejection_judged": choke.label,
    }
    return summary, flags


def _impedance_figures(on: BandGrid, choke: ChokeCurves) -> tuple[dict[str, Any], tuple[Flag, ...]]:
    names = (
        "self_resonance_hz",
        "peak_impedance_ohm",
        "peak_impedance_hz",
        "inductance_h",
        "stray_capacitance_f",
    )
    if choke.z_ohm is None:
        return dict.fromkeys(names), ()
    freq_hz, z_ohm = on.freq_hz[on.measured], choke.z_ohm[on.measured]
    found = choke_figures.compute_choke_figures(freq_hz, z_ohm, choke.impedance_ohm[1][on.measured])
    values = [to_json_number(getattr(found, name)) for name in names]
    absent = (
        ("no_self_resonance", values[0]),
        ("no_inductance", values[3]),
        ("no_stray_capacitance", values[4]),
    )
    flags = [build_flag(code) for code, value in absent if value is None]
    undefined = int(np.isnan(z_ohm).sum())
    if undefined:
        reason = "nothing gets through, or a correction divides by zero"
        flags.append(build_flag("undefined_points", count=undefined, quantity="the impedance", reason=reason))
    return dict(zip(names, values, strict=True)), tuple(flags)


def _traces(choke: ChokeCurves) -> dict[str, Floats]:
    traces = {
        "rejection_db": choke.judged_db,
        "rejection_raw_db": choke.raw_db,
    }
    if choke.z_ohm is not None:
        traces["resistance_ohm"], traces["impedance_ohm"] = choke.impedance_ohm
        traces["reactance_ohm"] = choke.z_ohm.imag
    if choke.floor_db is not None:
        traces["floor_db"] = choke.floor_db
    return traces


def _evidence(on: BandGrid, choke: ChokeCurves) -> evidence_grid.EvidenceCurve | None:
    if choke.z_ohm is None:
        return None
    return evidence_grid.EvidenceCurve.of(on.freq_hz, choke.z_ohm)
