"""The common-mode impedance of a winding from files that are read and forgotten."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from measurements.errors import BenchnightError
from measurements.ingest import analysis
from measurements.ingest.uploads import TestSettings, Upload

ROLES = ("sweep", "sweep_reversed", "jig_through", "jig_open", "jig_short")


@dataclass(frozen=True)
class MeasuredCurve:
    """freq_hz (F,) and Zcm (F,), the jig taken out where it was swept, NaN where undefined."""

    freq_hz: NDArray[np.float64]
    z_ohm: NDArray[np.complex128]


def of_uploads(uploads_by_role: Mapping[str, Upload]) -> MeasuredCurve:
    """Reads the files as a common-mode test, at most 801 points of it.

    Raises BenchnightError naming the field, and the line of a file that is at fault.
    """
    for role in uploads_by_role:
        if role not in ROLES:
            raise BenchnightError(
                "identify.unknown_file",
                f"There is no such file field; known: {', '.join(ROLES)}.",
                field=role,
            )
    if "sweep" not in uploads_by_role:
        raise BenchnightError("identify.no_sweep", "Send the sweep of the winding.", field="sweep")
    found = analysis.of_uploads(
        uploads_by_role=uploads_by_role, settings=TestSettings(kind="common_mode", calibrated=True)
    )
    traces = found.analysis.traces
    if "resistance_ohm" not in traces:
        raise BenchnightError(
            "identify.no_impedance",
            "This file has no phase, so no impedance follows from it: send S21, or S11 of a shorted far "
            "side, as "
            "complex numbers.",
            field="sweep",
        )
    z_ohm = np.asarray(traces["resistance_ohm"] + 1j * traces["reactance_ohm"], dtype=np.complex128)
    return MeasuredCurve(np.asarray(traces["freq_hz"], dtype=np.float64), z_ohm)
