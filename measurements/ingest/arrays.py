"""Arrays as they stand in the database: little-endian, row-major, on every machine alike."""

from __future__ import annotations

from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.models import SweepFile
from measurements.rf.sweep import Sweep

FLOAT = np.dtype("<f8")
COMPLEX = np.dtype("<c16")
CURVE = np.dtype("<c8")


def stored_fields(sweep: Sweep) -> dict[str, Any]:
    """The columns of a `SweepFile` that hold what was read from its bytes."""
    return {
        "ports": sweep.ports,
        "points": sweep.points,
        "freq_hz": sweep.freq_hz.astype(FLOAT).tobytes(),
        "s": sweep.s.astype(COMPLEX).tobytes(),
        "z0_ohm": sweep.z0_ohm.tolist(),
        "measured": sweep.measured.ravel().tolist(),
        "magnitude_only": sweep.magnitude_only,
        "source": sweep.source,
        "notes": list(sweep.notes),
    }


def sweep_of(row: SweepFile) -> Sweep:
    """The sweep as it was read when the file came, bit for bit."""
    shape = (row.ports, row.ports)
    return Sweep(
        freq_hz=np.frombuffer(row.freq_hz, FLOAT),
        s=np.frombuffer(row.s, COMPLEX).reshape(-1, *shape),
        z0_ohm=np.array(row.z0_ohm, dtype=float),
        measured=np.array(row.measured, dtype=bool).reshape(shape),
        source=row.source,
        notes=tuple(row.notes),
        magnitude_only=row.magnitude_only,
    )


def curve_bytes(z_ohm: NDArray[np.complex64]) -> bytes:
    """An evidence curve as stored."""
    return z_ohm.astype(CURVE).tobytes()
