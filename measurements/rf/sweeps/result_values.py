"""Numbers as a result may carry them: a finite float, or None.

NaN (undefined) and infinity (a limit that no measurement reaches) both leave as None; whoever
makes them None raises a flag that says why.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.rf.sweeps.sweep import Floats


def to_json_number(value: Any) -> float | None:
    """Return `value` as a finite Python float, else None; -0.0 becomes 0.0."""
    if value is None:
        return None
    plain = float(value)
    return plain + 0.0 if math.isfinite(plain) else None


def to_json_complex(value: Any) -> dict[str, float] | None:
    """Return `value` as {"re", "im"}, else None when either part is not finite."""
    if value is None:
        return None
    plain = complex(value)
    re, im = to_json_number(plain.real), to_json_number(plain.imag)
    return None if re is None or im is None else {"re": re, "im": im}


# Curves for display as a block of bytes: as JSON they took longer to write than the figures to compute.

SINGLE_PRECISION = np.dtype("<f4")

TRACE_DIGITS = 7  # what single precision holds, nearly; far finer than any analyser


def pack_traces(traces: Mapping[str, Floats]) -> tuple[list[str], bytes]:
    """Return names, and T*F little-endian float32 in their order, row-major; NaN where there is no value.

    traces: T curves of F points each. Raises ValueError where their lengths differ.
    """
    if not traces:
        return [], b""
    with np.errstate(over="ignore"):  # beyond 3e38 there is no display either: infinite, so None when listed
        return list(traces), np.stack(list(traces.values())).astype(SINGLE_PRECISION).tobytes()


def unpack_traces(names: Iterable[str], packed: bytes) -> dict[str, Floats]:
    """Return the curves by name, F points each. Raises ValueError where the bytes are not so many rows."""
    listed = list(names)
    if not listed:
        return {}
    rows = np.frombuffer(packed, SINGLE_PRECISION).reshape(len(listed), -1).astype(np.float64)
    return dict(zip(listed, rows, strict=True))


def format_traces(traces: Mapping[str, Floats]) -> dict[str, list[float | None]]:
    """Return the curves as JSON has them: seven significant digits, None where there is no finite value."""
    return {name: round_significant(values, TRACE_DIGITS) for name, values in traces.items()}


def round_significant(values: NDArray[np.float64], digits: int) -> list[float | None]:
    """Return values with so many significant digits, as short as JSON can write them; None where there is
    none.
    """
    known = np.isfinite(values)
    size = np.abs(np.where(known & (values != 0), values, 1.0))
    shift = digits - 1 - np.floor(np.log10(size)).astype(int)
    # up to 10**22 a power of ten is exact, and the quotient of two exact numbers is the nearest there is
    tens = 10.0 ** np.abs(shift)
    scaled = np.where(shift >= 0, np.where(known, values, 0.0) * tens, np.where(known, values, 0.0) / tens)
    whole = np.rint(scaled)
    rounded = np.where(shift >= 0, whole / tens, whole * tens)
    found: list[float | None] = rounded.tolist()
    if known.all():
        return found
    return [value if there else None for value, there in zip(found, known.tolist(), strict=True)]
