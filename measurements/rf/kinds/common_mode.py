"""Kind `common_mode`: does it choke? Rejection and Zcm of the device as one series impedance.

Rejection as the file has it (raw) and after the jig's corrections are both kept; `rejection_judged` in
the summary says which one `rejection_db` and `meets` are: `raw`, `normalised` (divided by the jig's
through) or `compensated` (open and short taken out, rejection recomputed from Zdut). The figures of these
curves are `choke_results`, for one sweep as for many.
"""

from __future__ import annotations

from dataclasses import replace

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf import evidence_grid
from measurements.rf.analyser import UNDESCRIBED, Analyser
from measurements.rf.bands import build_band_grid, cut_sweep, resample_sweep
from measurements.rf.flags import Flag
from measurements.rf.instruments import jig, sweep_checks
from measurements.rf.instruments.port2_match import (
    correct_series_impedance,
    correct_two_port,
    find_port2_reflection,
)
from measurements.rf.kinds import choke_results
from measurements.rf.kinds.choke_results import ChokeCurves
from measurements.rf.kinds.choke_uncertainty import ChokeBench, propagate_choke
from measurements.rf.networks import series_through
from measurements.rf.request import Computed, Request
from measurements.rf.sweeps.sweep import Complexes, Floats, Sweep


def compute(request: Request) -> Computed:
    """Return figures of a common-mode test, per band and in the summary.

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
    choke, flags = measure_choke(
        resample_sweep(test, on.freq_hz), method, gear.on(on.freq_hz), request.analyser
    )
    benchmark_db = request.limits.benchmark_db
    bench = describe_bench(request, test, method, choke, gear.on(on.freq_hz))
    spread = propagate_choke(on.freq_hz, choke.normalised, choke.z_ohm, bench)
    found = choke_results.compute_choke_results(on, choke, spread, benchmark_db)
    bands, covered = found.bands[0], found.covered[0]
    checks = sweep_checks.flag_common_mode_wiring(on.freq_hz, choke.normalised[0], test, choke.floor_db)
    return Computed(
        method=method,
        grid=on,
        band_metrics=tuple(
            {**band, "covered_meets": meets} for band, meets in zip(bands, covered, strict=True)
        ),
        summary=found.summaries[0],
        flags=(
            *gear.flags,
            *flags,
            *choke_results.list_absence_flags(found.raised[0], benchmark_db),
            *choke_results.list_jig_limited_flags(on, bands),
            *choke_results.list_impossible_flags(on, choke, spread),
            *checks,
        ),
        traces={
            name: values if values.ndim == 1 else values[0]
            for name, values in choke_results.list_traces(choke, slice(None)).items()
        },
        main=test,
        evidence=None if found.evidence is None else evidence_grid.EvidenceCurve(found.evidence[0]),
    )


def describe_bench(
    request: Request,
    test: Sweep,
    method: series_through.ImpedanceMethod,
    choke: ChokeCurves,
    gear: dict[str, Sweep],
) -> ChokeBench:
    """Return the errors of the instrument and the jig that the uncertainty of this test needs."""
    analyser, through = request.analyser, gear.get("jig_through")
    corrected = through is not None and find_port2_reflection(through, test, analyser) is not None
    return ChokeBench(
        analyser=analyser,
        method=method,
        match=analyser.reflection_residual if corrected else analyser.get_port2_match(test),
        is_normalised=through is not None and method != "s11",
        is_compensated=choke.label == "compensated",
        is_turned=method == "y21" and analyser.get_paths(test) == 1,
        z0_ohm=series_through.loop_ohm(test, method) / 2,
    )


def measure_choke(
    test: Sweep,
    method: series_through.ImpedanceMethod,
    gear: dict[str, Sweep],
    analyser: Analyser = UNDESCRIBED,
) -> tuple[ChokeCurves, tuple[Flag, ...]]:
    """Return the test (on the grid) with what the jig's sweeps allow.

    On one path the match of port 2 is taken out where the jig's through gave it.
    """
    around = series_through.loop_ohm(test, method)
    flags: tuple[Flag, ...] = ()
    plain, label = test, "raw"
    if "jig_through" in gear and method != "s11":
        plain, flags = jig.normalise_by_through(test, gear["jig_through"])
        gear = {role: jig.normalise_by_through(sweep, gear["jig_through"])[0] for role, sweep in gear.items()}
        label = "normalised"
    if test.magnitude_only:
        raw, clean = _s21(test, around), _s21(plain, around)
        return _as_one_row(raw, clean, None, None, _floor(gear, method), label), flags
    g2 = find_port2_reflection(gear.get("jig_through"), test, analyser) if method != "s11" else None
    if g2 is not None and method == "y21":
        plain = replace(plain, s=correct_two_port(plain.s, g2))
    z_ohm = series_through.compute_series_impedance(plain, method)
    if g2 is not None and method == "s21":
        z_ohm = correct_series_impedance(plain.column(1, 0), g2, float(test.z0_ohm[0]))
    raw = series_through.compute_transmission(z_ohm, around) if method == "s11" else _s21(test, around)
    clean = raw if method == "s11" else _s21(plain, around)
    if g2 is not None and method == "s21":
        clean = series_through.compute_transmission(z_ohm, around)
    compensated = None
    if {"jig_open", "jig_short"} <= set(gear):
        z_ohm = jig.compensate_jig(z_ohm, gear["jig_open"], gear["jig_short"], method)
        compensated, label = series_through.compute_transmission(z_ohm, around), "compensated"
    return _as_one_row(raw, clean, compensated, z_ohm, _floor(gear, method), label), flags


def _as_one_row(
    raw: Complexes,
    clean: Complexes,
    compensated: Complexes | None,
    z_ohm: Complexes | None,
    floor_db: Floats | None,
    label: str,
) -> ChokeCurves:
    """Hold the curves of one sweep, (G,) each, as N = 1; without a through, two of them are one array."""
    row = raw[None]
    return ChokeCurves(
        raw=row,
        normalised=row if label == "raw" or clean is raw else clean[None],
        compensated=None if compensated is None else compensated[None],
        z_ohm=None if z_ohm is None else z_ohm[None],
        floor_db=floor_db,
        label=label,
    )


def _s21(test: Sweep, around_ohm: float) -> Complexes:
    """Return S21 relative to a direct connection of the same ports (1 with equal references)."""
    direct = 2.0 * np.sqrt(test.z0_ohm[0] * test.z0_ohm[1]) / around_ohm
    ratio: Complexes = test.column(1, 0) / direct
    return ratio


def _floor(gear: dict[str, Sweep], method: series_through.ImpedanceMethod) -> Floats | None:
    return jig.jig_floor_db(gear["jig_open"]) if "jig_open" in gear and method != "s11" else None
