"""Kind `load_match`: does the device present 50 ohm with its nominal load across the far side?"""

from __future__ import annotations

from math import isfinite
from typing import Any

import numpy as np

from measurements.errors import BenchnightError

from . import series_through, wiring
from .bands import BandGrid, BandView, band_grid, covered_within, metric, sweep_at, within
from .flags import Flag, flag
from .json_safe import complex_number, number
from .request import Computed, Request
from .sweep import Complexes, Floats


def compute(request: Request) -> Computed:
    """SWR, return loss and input impedance from S11 of `sweep`; without phase there is no impedance."""
    sweep = request.sweep()
    on = band_grid(sweep.freq_hz, request.bands)
    s11 = sweep_at(sweep, on.freq_hz).column(0, 0)
    swr, return_loss_db = swr_of(np.abs(s11)), series_through.rejection_db(s11)
    z_ohm = None if sweep.magnitude_only else series_through.z_from_s11(s11, float(sweep.z0_ohm[0]))
    load, load_flags = load_summary(request)
    checks = wiring.of_load_match(np.abs(s11[on.measured]))
    return Computed(
        method="s11",
        grid=on,
        band_metrics=tuple(_in_band(request, on, view, swr, return_loss_db, z_ohm) for view in on.views),
        summary={**load, "swr_limit": request.limits.swr},
        flags=(*load_flags, *checks, *_undefined(s11[on.measured])),
        traces=_traces(swr, return_loss_db, z_ohm),
        main=sweep,
    )


def swr_of(reflection: Floats) -> Floats:
    """(1+|S11|)/(1-|S11|), (F,); +inf where everything is reflected (|S11| >= 1).

    Source: the definition; tested against a published table of return loss and SWR.
    """
    out = np.full(reflection.shape, np.inf)
    np.divide(1 + reflection, 1 - reflection, out=out, where=reflection < 1)
    return out


def load_summary(request: Request) -> tuple[dict[str, Any], tuple[Flag, ...]]:
    """Load as measured, nominal load, and the SWR of the load alone; flags on a load that is off.

    Raises BenchnightError `load_match.load_ohm` for a load that is not a positive number.
    """
    nominal = wiring.nominal_load_ohm(float(request.ratio))
    load = request.load_ohm
    summary = {"load_ohm": load, "nominal_load_ohm": nominal, "load_alone_swr": None}
    if load is None:
        return summary, (flag("load_assumed", nominal_ohm=f"{nominal:g}"),)
    if not isfinite(load) or load <= 0:
        raise BenchnightError(
            "load_match.load_ohm",
            f"A load of {load:g} ohm cannot be. Give the resistor's value as measured, in ohm.",
            field="load_ohm",
        )
    alone = number(max(load, nominal) / min(load, nominal))
    return {**summary, "load_alone_swr": alone}, wiring.of_load(load, nominal)


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
        "meets": within(view, swr, "largest", request.limits.swr),
        "covered_meets": covered_within(view, swr, "largest", request.limits.swr),
        "swr": metric(view, on.freq_hz, swr, "largest"),
        "return_loss_db": metric(view, on.freq_hz, return_loss_db, "smallest"),
        "input_centre_ohm": complex_number(centre),
    }


def _undefined(s11: Complexes) -> tuple[Flag, ...]:
    total, none = int((np.abs(s11) >= 1).sum()), int((s11 == 0).sum())
    flags: list[Flag] = []
    if total:
        reason = "everything, or more, is reflected"
        flags.append(flag("undefined_points", count=total, quantity="the SWR", reason=reason))
    if none:
        reason = "nothing at all is reflected"
        flags.append(flag("undefined_points", count=none, quantity="the return loss", reason=reason))
    return tuple(flags)


def _traces(swr: Floats, return_loss_db: Floats, z_ohm: Complexes | None) -> dict[str, Floats]:
    traces = {"swr": swr, "return_loss_db": return_loss_db}
    if z_ohm is not None:
        traces |= {"resistance_ohm": z_ohm.real, "reactance_ohm": z_ohm.imag, "impedance_ohm": np.abs(z_ohm)}
    return traces
