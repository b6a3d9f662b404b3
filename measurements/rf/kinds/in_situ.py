"""Kind `in_situ`, the bypass test: SWR at the feed point through the device, and with a jumper in its place.

The figures are computed here; `bypass_findings` compares the curves. A bypass test alone makes no device
unserviceable and convicts no antenna. Neither curve is held against a limit over a whole band: a healthy
dipole has an SWR of 2.2 at a band edge.
"""

from __future__ import annotations

from typing import Any

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import (
    Band,
    BandGrid,
    BandView,
    build_band_grid,
    compute_band_metric,
    interpolate,
)
from measurements.rf.flags import Flag, build_flag
from measurements.rf.kinds import bypass_findings
from measurements.rf.kinds.bypass_findings import ReflectionCurve
from measurements.rf.kinds.load_match import compute_swr
from measurements.rf.request import Computed, Request
from measurements.rf.sweeps.sweep import Floats

THROUGH, BYPASSED = "sweep", "sweep_bypassed"
# the same two sweeps, of the day on which the antenna was taken into use
COMMISSIONING = {THROUGH: "first_through", BYPASSED: "first_bypassed"}


def compute(request: Request) -> Computed:
    """Compute the figures of a bypass test, under the names of the API.

    Roles `sweep` and `sweep_bypassed`, S11 of each; they need not share their frequencies. Roles
    `first_through` and `first_bypassed` (the commissioning of this antenna place) are optional:
    each is compared with its own curve of today.
    """
    through, bypassed = request.sweep(THROUGH), request.sweep(BYPASSED)
    bands = _select_asked_bands(request)
    on, on_bypassed = (build_band_grid(sweep.freq_hz, bands) for sweep in (through, bypassed))
    swr_through = _swr_on(request, on, THROUGH)
    swr_bypassed = _swr_on(request, on_bypassed, BYPASSED)
    curves = {role: _build_curve(request, role) for role in _list_roles(request)}
    metrics = [
        {
            "meets": None,
            "covered_meets": None,
            "swr_through": compute_band_metric(view, on.freq_hz, swr_through, "largest"),
            "swr_bypassed": compute_band_metric(other, on_bypassed.freq_hz, swr_bypassed, "largest"),
            **_conclude_on_band(view, curves, is_asked=bool(request.antenna_bands)),
        }
        for view, other in zip(on.views, on_bypassed.views, strict=True)
    ]
    return Computed(
        method="in_situ",
        grid=on,
        band_metrics=tuple(metrics),
        summary=_summarise(metrics, on),
        flags=(
            *(() if request.antenna_bands else (build_flag("antenna_bands_missing"),)),
            *_phase_flags(curves),
            *_hidden_loss_flags(on.views, metrics, curves[BYPASSED]),
            *_reflection_flags(swr_through[on.measured], "the SWR through the device"),
            *_reflection_flags(swr_bypassed[on_bypassed.measured], "the bypassed SWR"),
        ),
        traces={"swr_through": swr_through, "swr_bypassed": _onto(on, on_bypassed, swr_bypassed)},
        main=through,
    )


def _select_asked_bands(request: Request) -> tuple[Band, ...]:
    """Return the bands that the antenna is for; all of the plan where nobody said.

    Raises BenchnightError `in_situ.antenna_bands` for a band that is not in the plan.
    """
    if not request.antenna_bands:
        return request.bands
    known = {band.name.casefold(): band for band in request.bands}
    for name in request.antenna_bands:
        if name.casefold() not in known:
            raise BenchnightError(
                "in_situ.antenna_bands",
                f"There is no band '{name[:20]}' in this region's plan. Choose of {', '.join(known)}.",
                field="antenna_bands",
            )
    asked = {name.casefold() for name in request.antenna_bands}
    return tuple(band for name, band in known.items() if name in asked)


def _list_roles(request: Request) -> list[str]:
    return [THROUGH, BYPASSED, *(role for role in COMMISSIONING.values() if role in request.sweeps)]


def _build_curve(request: Request, role: str) -> ReflectionCurve:
    """Return a sweep as a curve; the jumper's is referred to ratio x Z0, where the antenna is meant to be."""
    sweep = request.sweep(role)
    by_jumper = role in (BYPASSED, COMMISSIONING[BYPASSED])
    s11 = sweep.column(0, 0, field=role)
    phase_known = not sweep.magnitude_only
    if by_jumper and request.ratio != 1 and not phase_known:
        s11 = np.full_like(s11, np.nan)  # without phase nothing can be referred
    ratio = float(request.ratio) if by_jumper else 1.0
    referred, error = bypass_findings.refer_reflection(s11, ratio, request.analyser.reflection_residual)
    return ReflectionCurve(sweep.freq_hz, referred, error, phase_known)


def _conclude_on_band(
    view: BandView, curves: dict[str, ReflectionCurve], *, is_asked: bool
) -> dict[str, Any]:
    """Compare the curves on a band; no finding where nobody said that the antenna is for it."""
    since = {
        role: bypass_findings.compare_with_commissioning(curves[role], curves[first], view.band)
        for role, first in COMMISSIONING.items()
        if first in curves
    }
    finding = bypass_findings.judge_bypass(curves[THROUGH], curves[BYPASSED], view.band)
    if BYPASSED in since:
        finding = bypass_findings.weigh_commissioning(finding, since[BYPASSED]["change"])
    named = {THROUGH: "through_since_commissioning", BYPASSED: "bypassed_since_commissioning"}
    return {"finding": finding if is_asked else None, **{named[role]: found for role, found in since.items()}}


def _summarise(metrics: list[dict[str, Any]], on: BandGrid) -> dict[str, Any]:
    """Conclude over the bands that were swept at all."""
    swept = [each for each, view in zip(metrics, on.views, strict=True) if view.coverage != "none"]
    found = [each["finding"] for each in swept]
    # without the antenna's bands there is no finding on any of them
    is_asked = any(each is not None for each in found) or not found
    summary: dict[str, Any] = {"finding": bypass_findings.combine_findings(found) if is_asked else None}
    for name in ("through_since_commissioning", "bypassed_since_commissioning"):
        changes = [each[name]["change"] for each in swept if name in each]
        if changes:
            summary[name] = bypass_findings.combine_changes(changes)
    return summary


def _swr_on(request: Request, on: BandGrid, role: str) -> Floats:
    """Return SWR (G,) of a sweep at the impedance of its side: the jumper's at ratio x Z0, as it is
    compared.
    """
    curve = _build_curve(request, role).resample(on.freq_hz)
    size = np.abs(curve.reflection)
    swr: Floats = np.where(np.isnan(size), np.nan, compute_swr(size))
    return swr


def _onto(on: BandGrid, on_bypassed: BandGrid, swr_bypassed: Floats) -> Floats:
    """Put the bypassed curve at the frequencies of the other, NaN where it was not swept (to draw it)."""
    inside = (on.freq_hz >= on_bypassed.freq_hz[0]) & (on.freq_hz <= on_bypassed.freq_hz[-1])
    shown = np.full(on.freq_hz.shape, np.nan)
    with np.errstate(invalid="ignore"):  # inf times 0 beside a total reflection
        shown[inside] = interpolate(on_bypassed.freq_hz, swr_bypassed, on.freq_hz[inside])
    return shown


def _phase_flags(curves: dict[str, ReflectionCurve]) -> tuple[Flag, ...]:
    lacking = [role for role, curve in curves.items() if not curve.phase_known]
    return (build_flag("in_situ_needs_phase", roles=" and ".join(lacking)),) if lacking else ()


def _hidden_loss_flags(
    views: tuple[BandView, ...], metrics: list[dict[str, Any]], bypassed: ReflectionCurve
) -> tuple[Flag, ...]:
    return tuple(
        build_flag("in_situ_loss_hidden", band=view.band.name)
        for view, found in zip(views, metrics, strict=True)
        if found["finding"] == "device_changes_nothing"
        and bypass_findings.is_loss_hidden(bypassed, view.band)
    )


def _reflection_flags(values: Floats, quantity: str) -> tuple[Flag, ...]:
    count = int(np.isinf(values).sum())
    reason = "everything, or more, is reflected"
    return (build_flag("undefined_points", count=count, quantity=quantity, reason=reason),) if count else ()
