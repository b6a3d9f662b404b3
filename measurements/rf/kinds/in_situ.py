"""Kind `in_situ`: device or antenna? SWR at the feed point through the device and with it bypassed.

Bypassed good and through bad: the device is at fault. Both bad: antenna or feed line first, and the device is
not cleared. Both good: no fault found by this test. Bypassed bad and through good: inconclusive, because the
device transforms the impedance or its loss hides the reflection. "Good" is an SWR within the limit
(house default 1.5) at the worst point of the band.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Any, Literal

import numpy as np

from measurements.rf.bands import (
    BandGrid,
    BandView,
    build_band_grid,
    compute_band_metric,
    interpolate,
    judge_band,
    judge_covered_part,
    resample_sweep,
)
from measurements.rf.flags import Flag, build_flag
from measurements.rf.impedance_ratio import format_ratio
from measurements.rf.kinds.load_match import compute_swr
from measurements.rf.request import Computed, Request
from measurements.rf.sweeps.sweep import Floats, Sweep

THROUGH, BYPASSED = "sweep", "sweep_bypassed"
Finding = Literal["device_at_fault", "antenna_or_line_at_fault", "no_fault_found", "inconclusive"]

_FINDINGS: dict[tuple[bool, bool], Finding] = {  # (through good, bypassed good)
    (False, True): "device_at_fault",
    (False, False): "antenna_or_line_at_fault",
    (True, True): "no_fault_found",
    (True, False): "inconclusive",
}


def compute(request: Request) -> Computed:
    """Figures of an in-situ test, under the names of the API.

    Roles `sweep` and `sweep_bypassed`, S11 of each; they need not share their frequencies.
    """
    through, bypassed = request.sweep(THROUGH), request.sweep(BYPASSED)
    on, on_bypassed = (build_band_grid(sweep.freq_hz, request.bands) for sweep in (through, bypassed))
    swr_through = _swr_on(through, on, THROUGH)
    swr_bypassed = _swr_on(bypassed, on_bypassed, BYPASSED)
    limit = request.limits.swr
    metrics, goods = [], []
    for view, other in zip(on.views, on_bypassed.views, strict=True):
        good = (
            judge_band(view, swr_through, "largest", limit),
            judge_band(other, swr_bypassed, "largest", limit),
        )
        goods.append(good)
        covered = judge_covered_part(view, swr_through, "largest", limit)
        figures = _in_band(view, on, swr_through, other, on_bypassed, swr_bypassed, good)
        metrics.append({**figures, "covered_meets": covered})
    return Computed(
        method="in_situ",
        grid=on,
        band_metrics=tuple(metrics),
        summary={"finding": judge_overall_finding(goods), "swr_limit": limit},
        flags=(
            *_ratio_flags(request),
            *_hidden_flags(on.views, goods),
            *_reflection_flags(swr_through[on.measured], "the SWR through the device"),
            *_reflection_flags(swr_bypassed[on_bypassed.measured], "the bypassed SWR"),
        ),
        traces={"swr_through": swr_through, "swr_bypassed": _onto(on, on_bypassed, swr_bypassed)},
        main=through,
    )


def judge_finding(through_good: bool | None, bypassed_good: bool | None) -> Finding:
    """What one band says; `inconclusive` where either sweep does not cover it."""
    if through_good is None or bypassed_good is None:
        return "inconclusive"
    return _FINDINGS[through_good, bypassed_good]


def judge_overall_finding(goods: Iterable[tuple[bool | None, bool | None]]) -> Finding:
    """The finding over all bands that both sweeps cover.

    A band that convicts the device counts first: there the antenna is fine and the device is not. Then bands
    that convict the antenna, then those that hide something; no fault only where every covered band is good.
    """
    found = {judge_finding(*good) for good in goods if None not in good}
    for worst in ("device_at_fault", "antenna_or_line_at_fault", "inconclusive", "no_fault_found"):
        if worst in found:
            return worst
    return "inconclusive"


def _swr_on(sweep: Sweep, on: BandGrid, role: str) -> Floats:
    return compute_swr(np.abs(resample_sweep(sweep, on.freq_hz).column(0, 0, field=role)))


def _in_band(
    view: BandView,
    on: BandGrid,
    swr_through: Floats,
    other: BandView,
    on_bypassed: BandGrid,
    swr_bypassed: Floats,
    good: tuple[bool | None, bool | None],
) -> dict[str, Any]:
    return {
        "meets": good[0],
        "swr_through": compute_band_metric(view, on.freq_hz, swr_through, "largest"),
        "swr_bypassed": compute_band_metric(other, on_bypassed.freq_hz, swr_bypassed, "largest"),
        "finding": judge_finding(*good),
    }


def _onto(on: BandGrid, on_bypassed: BandGrid, swr_bypassed: Floats) -> Floats:
    """The bypassed curve at the frequencies of the other, NaN where it was not swept (for drawing only)."""
    inside = (on.freq_hz >= on_bypassed.freq_hz[0]) & (on.freq_hz <= on_bypassed.freq_hz[-1])
    shown = np.full(on.freq_hz.shape, np.nan)
    with np.errstate(invalid="ignore"):  # inf times 0 beside a total reflection
        shown[inside] = interpolate(on_bypassed.freq_hz, swr_bypassed, on.freq_hz[inside])
    return shown


def _ratio_flags(request: Request) -> tuple[Flag, ...]:
    if request.ratio == 1:
        return ()
    return (build_flag("in_situ_indicative", ratio=format_ratio(request.ratio)),)


def _hidden_flags(
    views: tuple[BandView, ...], goods: list[tuple[bool | None, bool | None]]
) -> tuple[Flag, ...]:
    return tuple(
        build_flag("in_situ_hidden", band=view.band.name)
        for view, good in zip(views, goods, strict=True)
        if good == (True, False)
    )


def _reflection_flags(values: Floats, quantity: str) -> tuple[Flag, ...]:
    count = int(np.isinf(values).sum())
    reason = "everything, or more, is reflected"
    return (build_flag("undefined_points", count=count, quantity=quantity, reason=reason),) if count else ()
