"""Whether a method can be believed on the analyser at hand: impossible losses, and U too large to decide.

The method to take instead follows from the analyser's description (`method_ranking`): on one path S21 suffers
from the match of port 2, while three reflections at port 1, and a pair closed by a far_load sweep, do not
(trade page, 6).
"""

from __future__ import annotations

import numpy as np

from measurements.rf.bands import BandGrid
from measurements.rf.flags import Flag, build_flag
from measurements.rf.instruments.impossible_figures import (
    IMPOSSIBLE_GAIN,
    find_below_zero,
    flag_impossible_points,
)
from measurements.rf.loss.method_ranking import USEFUL_DB, advise_on_method
from measurements.rf.request import LossCurve, Request

_CHECKS = {
    "direct": "that the sweep is of this device, straight through, and that the calibration holds",
    "renormalised": "the ratio, the calibration, and that both directions are of this device",
    "series_resistor": "that the series resistor was in place, its value and the ratio",
    "one_port": "that far_open, far_short and far_load are not mixed up, and the load and ratio",
    "back_to_back": "that both devices and far_load are the ones meant, and the ratio",
    "known_partner": "that the partner is the device whose loss is stored, and that its loss is right",
    "pairs": "that each pair is of the two devices it names, and the ratio",
}


def flag_impossible_loss(method: str, on: BandGrid, curve: LossCurve) -> tuple[Flag, ...]:
    """Return flags where a loss, or the part that becomes heat, is below zero beyond its uncertainty.

    A reading with the mismatch of a ratio in it (`direct`) is a loss as well.
    """
    flags: list[Flag] = []
    for one in (curve, *curve.devices.values()):
        for values, uncertainty in (
            (one.loss_db, one.uncertainty_db),
            (one.dissipative_db, one.dissipative_uncertainty_db),
        ):
            if values is not None and uncertainty is not None:
                below = find_below_zero(values, uncertainty)
                flags += flag_impossible_points(
                    on, below, values, codes=IMPOSSIBLE_GAIN, unit=" dB", check=_CHECKS[method]
                )
    # the largest says it all: one flag on the test, or one on each band
    seen: dict[str | None, Flag] = {}
    for flag in flags:
        seen.setdefault(flag.band, flag)
    return (seen[None],) if None in seen else tuple(seen.values())


def flag_large_uncertainty(request: Request, method: str, on: BandGrid, curve: LossCurve) -> tuple[Flag, ...]:
    """Return a note on the bands where U is too large to mean much, with the method that can be believed."""
    uncertainty = curve.uncertainty_db
    if not curve.judged or uncertainty is None:
        return ()
    large = []
    for view in on.views:
        inside = uncertainty[view.inside]
        known = inside[np.isfinite(inside)]
        if view.judged and known.size and known.max() > USEFUL_DB:
            large.append((view.band.name, float(known.max())))
    if not large:
        return ()
    return (
        build_flag(
            "uncertainty_large",
            method=method,
            quantity="loss",
            uncertainty=f"{min(size for _, size in large):.2g} dB",
            bands=", ".join(name for name, _ in large),
            advice=advise_on_method(request, method),
        ),
    )
