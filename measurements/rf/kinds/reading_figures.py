"""Values read off a screen by hand: shown apart, never drawn, never evidence, never judged.

A reading says what it says at its own frequency. A band gets figures only where a reading falls
inside, and no verdict, since nobody knows the worst point between readings.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Any

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import Band, BandGrid, BandView, Worst, compute_band_metric
from measurements.rf.flags import build_flag
from measurements.rf.kinds.load_match import summarise_load
from measurements.rf.request import Computed, Readings, Request
from measurements.rf.sweeps.sweep import Floats

# kind: the metric of a reading, and its bad end.
_MEANING: dict[str, tuple[str, Worst]] = {
    "common_mode": ("rejection_db", "smallest"),
    "load_match": ("swr", "largest"),
    "insertion_loss": ("loss_db", "largest"),
}


def compute(request: Request, readings: Readings) -> Computed:
    """Return figures per band from readings alone.

    Raises BenchnightError `readings.kind` for a kind that needs more than one value per frequency,
    `readings.swr` for an SWR below 1.
    """
    if request.kind not in _MEANING:
        raise BenchnightError(
            "readings.kind",
            "Single readings cannot make this kind of test. Save the sweeps as files and send those.",
            field="readings",
        )
    name, worst = _MEANING[request.kind]
    values = np.asarray(readings.value, dtype=np.float64)
    if name == "swr" and (values < 1).any():
        raise BenchnightError(
            "readings.swr",
            "An SWR below 1 does not exist. Type the SWR, not the return loss.",
            field="readings",
        )
    on = _grid(np.asarray(readings.freq_hz, dtype=np.float64), request.bands)
    summary, flags = _SUMMARIES[request.kind](request)
    return Computed(
        method="readings",
        grid=on,
        band_metrics=tuple(
            {"meets": None, name: compute_band_metric(view, on.freq_hz, values, worst)} for view in on.views
        ),
        summary=summary,
        flags=(build_flag("readings", count=values.size), *flags),
        traces={},
        main=None,
    )


def _grid(freq_hz: Floats, bands: Sequence[Band]) -> BandGrid:
    views = tuple(_view(freq_hz, band) for band in bands)
    return BandGrid(freq_hz, np.ones(freq_hz.size, dtype=np.bool_), views)


def _view(freq_hz: Floats, band: Band) -> BandView:
    """Return a band is at best partly covered: by the readings in it, and by nothing between them."""
    first = int(np.searchsorted(freq_hz, band.start_hz))
    after = int(np.searchsorted(freq_hz, band.stop_hz, "right"))
    if first == after:
        return BandView(band, "none", 0, slice(0, 0), None, None, None, None, None)
    inside = freq_hz[first:after]
    centre = np.flatnonzero(freq_hz == band.centre_hz)
    return BandView(
        band,
        "partial",
        after - first,
        slice(first, after),
        int(centre[0]) if centre.size else None,
        float(inside[0]),
        float(inside[-1]),
        None,
        None,
    )


def _common_mode(request: Request) -> tuple[dict[str, Any], tuple[Any, ...]]:
    names = ("meets_from_hz", "meets_to_hz", "self_resonance_hz", "peak_impedance_ohm", "peak_impedance_hz")
    more = ("inductance_h", "stray_capacitance_f", "floor_db")
    return {"benchmark_db": request.limits.benchmark_db, **dict.fromkeys((*names, *more))}, ()


def _load_match(request: Request) -> tuple[dict[str, Any], tuple[Any, ...]]:
    summary, flags = summarise_load(request)
    return {**summary, "swr_limit": request.limits.swr}, flags


def _insertion_loss(request: Request) -> tuple[dict[str, Any], tuple[Any, ...]]:
    return {"loss_limit_db": request.limits.loss_db, "ratio_floor_db": None}, ()


_SUMMARIES: dict[str, Callable[[Request], tuple[dict[str, Any], tuple[Any, ...]]]] = {
    "common_mode": _common_mode,
    "load_match": _load_match,
    "insertion_loss": _insertion_loss,
}
