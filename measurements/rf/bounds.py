"""How large a file may be, and which numbers in it can be true.

The size limits bound time and memory before anything is parsed; the ranges keep every later
square, sum and logarithm away from overflow. All are house defaults, far outside what a bench
analyser writes.
"""

from __future__ import annotations

from collections.abc import Callable

import numpy as np

from measurements.errors import BenchnightError, Kind
from measurements.rf.sweep import Complexes, Floats

MAX_BYTES = 8 * 1024 * 1024
MAX_POINTS = 50_000
MAX_PORTS = 4
MAX_LINES = 400_000
MAX_LINE_CHARACTERS = 4_096
MAX_NUMBER_CHARACTERS = 32
MAX_READINGS = 1_000

MAX_FREQUENCY_HZ = 1e12
MAX_MAGNITUDE = 1e6  # 120 dB: no bench amplifier, let alone a passive device
MIN_REFERENCE_OHM, MAX_REFERENCE_OHM = 1e-3, 1e6


def refusal(code: str, detail: str, line: int | None = None, kind: Kind = "invalid") -> BenchnightError:
    """A sweep file that cannot be taken: `code` without its "sweep." prefix, the line at fault."""
    return BenchnightError(f"sweep.{code}", detail, kind=kind, field="sweep", line=line)


def check_size(data: bytes) -> None:
    """Raise BenchnightError `sweep.empty` or `sweep.too_large`."""
    if len(data) > MAX_BYTES:
        raise refusal(
            "too_large",
            f"The file has {len(data)} bytes; the limit is {MAX_BYTES}. Sweep with fewer points.",
            kind="too_large",
        )
    if not data.strip():
        raise refusal("empty", "The file is empty. Save the sweep again and send that file.")


def check_points(points: int) -> None:
    """Raise BenchnightError `sweep.too_many_points`."""
    if points > MAX_POINTS:
        raise refusal(
            "too_many_points",
            f"The sweep has more than {MAX_POINTS} points. Sweep with fewer points.",
            kind="too_large",
        )


def in_hz(frequency: Floats, scale_hz: float) -> Floats:
    """Frequencies in Hz; what overflows becomes infinite, for `check_frequencies` to refuse by line."""
    with np.errstate(over="ignore"):
        scaled: Floats = frequency * scale_hz
    return scaled


def check_frequencies(freq_hz: Floats, line_of: Callable[[int], int]) -> None:
    """Frequencies must be finite, not negative, below 1 THz and strictly rising.

    freq_hz: (F,). line_of: index of a point -> its line, called only where a fault is named.
    """
    if np.all((freq_hz >= 0) & (freq_hz <= MAX_FREQUENCY_HZ)) and np.all(freq_hz[1:] > freq_hz[:-1]):
        return
    for index, value in enumerate(freq_hz):
        line = line_of(index)
        if not np.isfinite(value):
            raise refusal("not_finite", f"The frequency in line {line} is not a finite number.", line)
        if value < 0:
            raise refusal("negative_frequency", f"The frequency in line {line} is negative.", line)
        if value > MAX_FREQUENCY_HZ:
            raise refusal(
                "frequency_range",
                f"The frequency in line {line} is {value:.6g} Hz, above 1 THz. "
                "The unit the file states does not fit its numbers: export it again.",
                line,
            )
        if index and value <= freq_hz[index - 1]:
            how = "repeats" if value == freq_hz[index - 1] else "is lower than"
            raise refusal(
                "frequency_order",
                f"The frequency in line {line} {how} the one before it. "
                "Frequencies must rise from line to line: send one single sweep, lowest frequency first.",
                line,
            )


def check_values(values: Complexes, line_of: Callable[[int], int], what: str = "value") -> None:
    """Every magnitude must be finite and at most MAX_MAGNITUDE.

    values: (F, ...) complex or real. Raises `sweep.not_finite` or `sweep.value_range`.
    """
    size = np.abs(values).reshape(len(values), -1)
    if np.all(size <= MAX_MAGNITUDE):
        return
    index = int(np.argmax(~np.all(size <= MAX_MAGNITUDE, axis=1)))
    line = line_of(index)
    if not np.all(np.isfinite(size[index])):
        raise refusal("not_finite", f"A {what} in line {line} is not a finite number.", line)
    raise refusal(
        "value_range",
        f"A {what} in line {line} is a ratio above {MAX_MAGNITUDE:.0e}, which no device gives. "
        "Check the unit and format the file states.",
        line,
    )


def check_reference(z0_ohm: float, line: int | None) -> None:
    """Raise BenchnightError `sweep.reference` unless 1 milliohm <= z0_ohm <= 1 megohm."""
    if not MIN_REFERENCE_OHM <= z0_ohm <= MAX_REFERENCE_OHM:
        raise refusal(
            "reference",
            f"The reference resistance {z0_ohm:g} ohm cannot be right: it must be positive "
            "(50 for nearly every analyser). Export the file again with its reference.",
            line,
        )
