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
    judge_band,
    judge_covered_part,
    resample_sweep,
)
from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments import sweep_checks
from measurements.rf.networks import series_through
from measurements.rf.request import Computed, Request
from measurements.rf.sweeps.result_values import to_json_complex, to_json_number
from measurements.rf.sweeps.sweep import Complexes, Floats


def compute(request: Request) -> Computed:
    """SWR, return loss and input impedance from S11 of `sweep`; without phase there is no impedance."""
    sweep = request.sweep()
    on = build_band_grid(sweep.freq_hz, request.bands)
    s11 = resample_sweep(sweep, on.freq_hz).column(0, 0)
    swr, return_loss_db = compute_swr(np.abs(s11)), series_through.rejection_db(s11)
    z_ohm = None if sweep.magnitude_only else series_through.z_from_s11(s11, float(sweep.z0_ohm[0]))
    load, load_flags = summarise_load(request)
    checks = sweep_checks.flag_load_match_wiring(np.abs(s11[on.measured]))
    return Computed(
        method="s11",
        grid=on,
        band_metrics=tuple(_in_band(request, on, view, swr, return_loss_db, z_ohm) for view in on.views),
        summary={**load, "swr_limit": request.limits.swr},
        flags=(*load_flags, *checks, *_undefined(s11[on.measured])),
        traces=_traces(swr, return_loss_db, z_ohm),
        main=sweep,
    )


def compute_swr(reflection: Floats) -> Floats:
    """(1+|S11|)/(1-|S11|), (F,); +inf where everything is reflected (|S11| >= 1).

    Source: the definition; tested against a published table of return loss and SWR.
    """
    out = np.full(reflection.shape, np.inf)
    np.divide(1 + reflection, 1 - reflection, out=out, where=reflection < 1)
    return out


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
    return_loss_db: Floats,
    z_ohm: Complexes | None,
) -> dict[str, Any]:
    centre = None if z_ohm is None or view.centre_index is None else z_ohm[view.centre_index]
    return {
        "meets": judge_band(view, swr, "largest", request.limits.swr),
        "covered_meets": judge_covered_part(view, swr, "largest", request.limits.swr),
        "swr": compute_band_metric(view, on.freq_hz, swr, "largest"),
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
