"""Which resistor a test asks for, what it can be made of, and what a bare ratio or rejection amounts to.

Load ratio x 50 ohm and series resistor (ratio - 1) x 50 ohm: common practice. Parts: the E24 series of
IEC 60063.
"""

from __future__ import annotations

from fractions import Fraction
from itertools import combinations_with_replacement
from math import log10, sqrt

from measurements.pages.designs.forms import RATIOS
from measurements.pages.guide.page_structure import Table
from measurements.rf.impedance_ratio import NOMINAL_OHM, parse_ratio
from measurements.rf.loss.direct import ratio_floor_db

E24 = (10, 11, 12, 13, 15, 16, 18, 20, 22, 24, 27, 30, 33, 36, 39, 43, 47, 51, 56, 62, 68, 75, 82, 91)

EQUIVALENTS_DB = (10, 15, 20, 25, 30, 40)


def load_ohm(ratio: Fraction) -> float:
    """Return the resistor across the far side, ratio x 50 ohm."""
    return float(ratio) * NOMINAL_OHM


def series_ohm(ratio: Fraction) -> float:
    """Return the resistor that makes 50 ohm into the nominal load, (ratio - 1) x 50 ohm; 0 for 1:1."""
    return load_ohm(ratio) - NOMINAL_OHM


def choose_standard_resistor(target_ohm: float) -> str:
    """Return a resistor of the E24 series, or the two that come closest: alike in parallel or in series,
    else any.

    target_ohm: from 10 ohm to 10 kilohm; 0 needs no part. One resistor is taken where it is within 0.5 %.
    """
    if target_ohm == 0:
        return "a plain wire"
    parts = [value * decade for decade in (1, 10, 100) for value in E24]
    single = min(parts, key=lambda part: abs(part - target_ohm))
    if abs(single / target_ohm - 1) <= 0.005:
        return f"one of {single:,g}"
    candidates = [
        *((part / 2, f"two of {part:,g} in parallel") for part in parts),
        *((part * 2, f"two of {part:,g} in series") for part in parts),
        *((a + b, f"{b:,g} and {a:g} in series") for a, b in combinations_with_replacement(parts, 2)),
    ]
    return min(candidates, key=lambda found: abs(found[0] - target_ohm))[1]  # the first of equals


def resistive_ohm(rejection_db: float) -> float:
    """Return the resistance that in series between two 50-ohm ports gives this rejection: 2 Z0 (10^(dB/20)
    - 1).
    """
    return 2 * NOMINAL_OHM * (10 ** (rejection_db / 20) - 1)


def reactive_ohm(rejection_db: float) -> float:
    """Return the reactance that does the same: 2 Z0 sqrt(10^(dB/10) - 1)."""
    return 2 * NOMINAL_OHM * sqrt(10 ** (rejection_db / 10) - 1)


def build_load_table() -> Table:
    """Load resistor by ratio."""
    rows = tuple(
        (
            ratio,
            _format_ohm(load_ohm(parse_ratio(ratio))),
            choose_standard_resistor(load_ohm(parse_ratio(ratio))),
        )
        for ratio in RATIOS
    )
    return Table("The load: ratio × 50 ohm.", ("Ratio", "Load R, ohm", "Standard values (E24), ohm"), rows)


def build_series_table() -> Table:
    """Return series resistor by ratio, and what it takes of the reading."""
    rows = []
    for text in RATIOS:
        ratio = parse_ratio(text)
        taken_db = 10 * log10(load_ohm(ratio) / NOMINAL_OHM)
        rows.append(
            (
                text,
                _format_ohm(series_ohm(ratio)),
                choose_standard_resistor(series_ohm(ratio)),
                f"{taken_db:.2f}",
            )
        )
    return Table(
        "The series resistor: (ratio − 1) × 50 ohm. The last column is taken off the reading for you.",
        ("Ratio", "Rs, ohm", "Standard values (E24), ohm", "Rs takes, dB"),
        tuple(rows),
    )


def build_floor_table() -> Table:
    """Build the table of the loss that an ideal device reads straight through."""
    rows = tuple((ratio, f"{ratio_floor_db(parse_ratio(ratio)):.2f}") for ratio in RATIOS)
    return Table(
        "What a perfect device of each ratio reads straight through: the mismatch of the ratio itself.",
        ("Ratio", "Reading, dB"),
        rows,
    )


def build_equivalents_table() -> Table:
    """Return rejection as an impedance in series between two 50-ohm ports."""
    rows = tuple(
        (f"{level} dB", f"{resistive_ohm(level):,.0f}", f"{reactive_ohm(level):,.0f}")
        for level in EQUIVALENTS_DB
    )
    return Table(
        "What a rejection amounts to between two ports of 50 ohm.",
        ("Rejection", "Resistance alone, ohm", "Reactance alone, ohm"),
        rows,
    )


def _format_ohm(value: float) -> str:
    return f"{value:,.0f}" if value else "none"
