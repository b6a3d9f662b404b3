"""A design's curves as CSV and as Touchstone."""

from __future__ import annotations

import numpy as np
from rest_framework import serializers

from api import tables
from api.strict import StrictSerializer
from measurements.errors import BenchnightError
from measurements.queries.rows import CurveSet
from measurements.rf import series_through, touchstone_out
from measurements.rf.sweep import Sweep

REFERENCE_OHM = 50.0
STATISTICS = ("median", "p10", "p90")
QUANTITIES = ("rejection_db", "resistance_ohm", "reactance_ohm", "impedance_ohm")


class CurveQuery(StrictSerializer):
    curve = serializers.ChoiceField(
        STATISTICS,
        default="median",
        help_text="Which curve a Touchstone file holds; the other forms hold all.",
    )


def as_csv(found: CurveSet) -> str:
    """A row per frequency; columns such as `rejection_db.median`, only those that may be seen."""
    shown = {
        f"{quantity}.{statistic}": values
        for quantity in QUANTITIES
        for statistic in STATISTICS
        if (values := getattr(found, quantity)[statistic]) is not None
    }
    rows = [
        {"freq_hz": freq_hz, **{name: values[index] for name, values in shown.items()}}
        for index, freq_hz in enumerate(found.freq_hz)
    ]
    return tables.csv_text(rows, ("freq_hz", *shown))


def as_touchstone(found: CurveSet, statistic: str, title: str) -> str:
    """One statistic as the two-port of a series impedance, at the frequencies where it has a value.

    Raises BenchnightError `curves.members_only` where resistance and reactance may not be seen.
    """
    resistance_ohm = found.resistance_ohm[statistic]
    reactance_ohm = found.reactance_ohm[statistic]
    if resistance_ohm is None or reactance_ohm is None:
        raise BenchnightError(
            "curves.members_only",
            "Touchstone files hold resistance and reactance, which are for signed-in members.",
            kind="forbidden",
        )
    known = [
        (freq_hz, complex(r_ohm, x_ohm))
        for freq_hz, r_ohm, x_ohm in zip(found.freq_hz, resistance_ohm, reactance_ohm, strict=True)
        if r_ohm is not None and x_ohm is not None
    ]
    sweep = Sweep(
        freq_hz=np.array([freq_hz for freq_hz, _ in known]),
        s=series_through.two_port_s(np.array([z_ohm for _, z_ohm in known]), REFERENCE_OHM),
        z0_ohm=np.full(2, REFERENCE_OHM),
        measured=np.ones((2, 2), dtype=bool),
    )
    comments = [
        f"Benchnight: {title}",
        f"{statistic} over {found.devices} devices, of resistance and of reactance, point by point.",
        "No single device's curve. A sweep at milliwatts proves nothing about power.",
    ]
    return touchstone_out.write(sweep, comments=comments)
