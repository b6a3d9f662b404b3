"""What a test is held against, and the ratio of a device.

The limits are house defaults that a steward can change (the benchmark of 20 dB is common practice).
"""

from __future__ import annotations

import re
from fractions import Fraction

from measurements.errors import BenchnightError

NOMINAL_OHM = 50.0

_PART = r"(\d{1,6}(?:\.\d{1,6})?(?:/\d{1,6})?)"

_RATIO = re.compile(rf"\s*{_PART}\s*:\s*{_PART}\s*", re.ASCII)

_LARGEST = 10_000


def parse_ratio(text: str) -> Fraction:
    """Return the impedance ratio of the far side to the unbalanced side, from its usual writing.

    "4:1" (as the trade writes it) and "1:4" (unbalanced side first, as 1) are both 4; "9:4" is 9/4;
    a device that steps down is written "0.25:1" or "1/4:1". Raises `ratio.unreadable` otherwise.
    """
    match = _RATIO.fullmatch(text)
    first, second = (_fraction(part) for part in match.groups()) if match else (Fraction(0), Fraction(0))
    if first <= 0 or second <= 0:
        raise _unreadable(text)
    ratio = second if first == 1 else first / second
    if not Fraction(1, _LARGEST) <= ratio <= _LARGEST:
        raise _unreadable(text)
    return ratio


def format_ratio(ratio: Fraction) -> str:
    """Return `ratio` as the trade writes it; `parse_ratio` reads it back to the same number."""
    if ratio.numerator == 1 and ratio.denominator > 1:
        return f"{ratio}:1"
    return f"{ratio.numerator}:{ratio.denominator}"


def _fraction(text: str) -> Fraction:
    whole, _, divisor = text.partition("/")
    if divisor and int(divisor) == 0:
        return Fraction(0)
    return Fraction(whole) / (int(divisor) if divisor else 1)


def _unreadable(text: str) -> BenchnightError:
    return BenchnightError(
        "ratio.unreadable",
        f"'{text[:20]}' is not a ratio. Write it as 1:1, 4:1 or 9:1, with positive numbers up to {_LARGEST}.",
        field="ratio",
    )
