"""Kind `load_match`: does the device present 50 ohm with its nominal load across the far side?"""

from __future__ import annotations

from math import isfinite
from typing import Any

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import (
    BandGrid,
    BandView,
    build_band_grid,
    compute_band_metric,
    resample_sweep,
)
from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments import port_errors, resistors, sweep_checks
from measurements.rf.instruments.decision import (
    MEETS,
    Decision,
    build_decision,
    decide,
    get_band_uncertainty,
)
from measurements.rf.instruments.error_budget import ErrorTerm, propagate
from measurements.rf.instruments.impossible_figures import (
    IMPOSSIBLE_GAIN,
    find_below_zero,
    flag_impossible_points,
)
from measurements.rf.networks import series_through
from measurements.rf.request import Computed, Request
from measurements.rf.sweeps.result_values import to_json_complex, to_json_number
from measurements.rf.sweeps.sweep import Complexes, Floats


def compute(request: Request) -> Computed:
    """Return SWR, return loss and input impedance from S11 of `sweep`; without phase there is no
    impedance.
    """
    sweep = request.sweep()
    load, load_flags = summarise_load(request)
    on = build_band_grid(sweep.freq_hz, request.bands)
    s11 = resample_sweep(sweep, on.freq_hz).column(0, 0)
    swr, return_loss_db = compute_swr(np.abs(s11)), series_through.rejection_db(s11)
    spread, reflected = propagate_match(request, on.freq_hz, s11)
    z_ohm = None if sweep.magnitude_only else series_through.z_from_s11(s11, float(sweep.z0_ohm[0]))
    checks = sweep_checks.flag_load_match_wiring(np.abs(s11[on.measured]))
    return Computed(
        method="s11",
        grid=on,
        band_metrics=tuple(
            _in_band(request, on, view, swr, spread, return_loss_db, z_ohm) for view in on.views
        ),
        summary={**load, "swr_limit": request.limits.swr},
        flags=(*load_flags, *checks, *flag_excess(on, s11, reflected), *_undefined(s11[on.measured])),
        traces=_traces(swr, return_loss_db, z_ohm),
        main=sweep,
    )


def compute_swr(reflection: Floats) -> Floats:
    """Return (1+|S11|)/(1-|S11|), (F,); +inf where everything is reflected (|S11| >= 1).

    Source: the definition; tested against a published table of return loss and SWR.
    """
    out = np.full(reflection.shape, np.inf)
    np.divide(1 + reflection, 1 - reflection, out=out, where=reflection < 1)
    return out


def propagate_match(request: Request, freq_hz: Floats, s11: Complexes) -> tuple[Floats, Floats]:
    """Return U (95 %) of the SWR and of |S11|, (F,): port 1, and the load resistor as the device passes it
    on.

    A load off by g against the nominal one moves S11 by at most g (1 - |S11|^2), in a direction that only the
    device knows (closed form of a lossless match). Of a tolerance 1/sqrt 2 points outwards in the mean
    square; a stray, of one sign, counts whole. The SWR's U is that of its larger side, infinite where
    |S11| + U reaches 1.
    """
    nominal = sweep_checks.compute_nominal_load_ohm(float(request.ratio))
    room = np.maximum(1 - np.abs(s11) ** 2, 0.0)
    outward = np.exp(1j * np.angle(s11))
    load = nominal if request.load_ohm is None else request.load_ohm
    across, along = resistors.compute_stray_changes_ohm(freq_hz, load)
    tolerance = resistors.get_tolerance(request.analyser, request.load_ohm, nominal)
    terms = [
        *port_errors.list_reflection_terms(request.analyser, {"s11": s11}),
        ErrorTerm("load", "interval", {"s11": tolerance / np.sqrt(8.0) * room * outward}),
        *(
            ErrorTerm(
                "stray of the load", "stray", {"s11": np.abs(moved / (2 * load + moved)) * room * outward}
            )
            for moved in (across, along)
        ),
    ]
    reflected = propagate(lambda moved: np.abs(moved["s11"]), {"s11": s11}, terms)
    swr = compute_swr(np.abs(s11))
    with np.errstate(invalid="ignore"):
        spread = np.where(np.isfinite(swr), compute_swr(np.abs(s11) + reflected) - swr, np.inf)
    return spread, reflected


def decide_swr(view: BandView, swr: Floats, spread: Floats, limit: float) -> Decision:
    """Return the decision on the worst SWR of what a sweep covers of a band.

    An endless SWR falls short: the uncertainty of an |S11| near 1 does not reach down to any usual limit.
    """
    inside = swr[view.inside]
    if not inside.size:
        return "not_judged"
    uncertainty = get_band_uncertainty(view, swr, spread, "largest")
    if np.isinf(inside).any():
        return "falls_short"
    return decide(float(inside.max()), uncertainty, limit, high_is_good=False)


def flag_excess(on: BandGrid, s11: Complexes, reflected: Floats) -> tuple[Flag, ...]:
    """Return flags where more is reflected than arrives, beyond the uncertainty of |S11| (`reflected`)."""
    room = 1 - np.abs(s11)
    below = find_below_zero(room, reflected)
    check = "the calibration at the clips, and that the file is of this device"
    room_db = -20 * np.log10(np.maximum(np.abs(s11), 1e-15))
    return flag_impossible_points(on, below, room_db, codes=IMPOSSIBLE_GAIN, unit=" dB", check=check)


def summarise_load(request: Request) -> tuple[dict[str, Any], tuple[Flag, ...]]:
    """Load as measured, nominal load, and the SWR of the load alone; flags on a load that is off.

    Raises BenchnightError `load_match.load_ohm` for a load that is not a positive number.
    """
    nominal = sweep_checks.compute_nominal_load_ohm(float(request.ratio))
    load = request.load_ohm
    summary = {"load_ohm": load, "nominal_load_ohm": nominal, "load_alone_swr": None}
    if load is None:
        return summary, (build_flag("load_assumed", nominal_ohm=f"{nominal:g}"),)
    if not isfinite(load) or load <= 0:
        raise BenchnightError(
            "load_match.load_ohm",
            f"A load of {load:g} ohm cannot be. Give the resistor's value as measured, in ohm.",
            field="load_ohm",
        )
    alone = to_json_number(max(load, nominal) / min(load, nominal))
    return {**summary, "load_alone_swr": alone}, sweep_checks.flag_load_resistor(load, nominal)


def _in_band(
    request: Request,
    on: BandGrid,
    view: BandView,
    swr: Floats,
    spread: Floats,
    return_loss_db: Floats,
    z_ohm: Complexes | None,
) -> dict[str, Any]:
    centre = None if z_ohm is None or view.centre_index is None else z_ohm[view.centre_index]
    worst = compute_band_metric(view, on.freq_hz, swr, "largest")
    uncertainty = get_band_uncertainty(view, swr, spread, "largest")
    covered = decide_swr(view, swr, spread, request.limits.swr)
    return {
        **build_decision(covered if view.judged else "not_judged"),
        "covered_meets": MEETS[covered],
        "uncertainty": {"swr": uncertainty},
        "swr": worst,
        "return_loss_db": compute_band_metric(view, on.freq_hz, return_loss_db, "smallest"),
        "input_centre_ohm": to_json_complex(centre),
    }


def _undefined(s11: Complexes) -> tuple[Flag, ...]:
    total, none = int((np.abs(s11) >= 1).sum()), int((s11 == 0).sum())
    flags: list[Flag] = []
    if total:
        reason = "everything, or more, is reflected"
        flags.append(build_flag("undefined_points", count=total, quantity="the SWR", reason=reason))
    if none:
        reason = "nothing at all is reflected"
        flags.append(build_flag("undefined_points", count=none, quantity="the return loss", reason=reason))
    return tuple(flags)


def _traces(swr: Floats, return_loss_db: Floats, z_ohm: Complexes | None) -> dict[str, Floats]:
    traces = {"swr": swr, "return_loss_db": return_loss_db}
    if z_ohm is not None:
        traces |= {"resistance_ohm": z_ohm.real, "reactance_ohm": z_ohm.imag, "impedance_ohm": np.abs(z_ohm)}
    return traces
