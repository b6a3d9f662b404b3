"""A Touchstone parser of the tests, written apart from the reader: sound files of S-parameters alone.

It takes every number of the file in turn and cuts them by the count that the ports need; no library parses.
"""

from __future__ import annotations

import cmath
import math
import re
from dataclasses import dataclass

UNIT_HZ = {"HZ": 1, "KHZ": 10**3, "MHZ": 10**6, "GHZ": 10**9}


@dataclass
class Parsed:
    """freq_hz: F values; s[k][i][j]: S(i+1)(j+1) at point k; z0_ohm: one value for each port."""

    freq_hz: list[float]
    s: list[list[list[complex]]]
    z0_ohm: list[float]


def parse(text: str, ports: int, order: str = "21_12") -> Parsed:
    """Parse a version 1 file, or a version 2 file with full, Lower or Upper matrices."""
    lines = [line.split("!")[0].strip() for line in text.splitlines()]
    option = next(line for line in lines if line.startswith("#"))[1:].upper().split()
    references = [float(word) for word in option[option.index("R") + 1 :]] if "R" in option else [50.0]
    matrix = next((line.split("]")[1].strip().lower() for line in lines if "[matrix" in line.lower()), "full")
    start = next((k + 1 for k, line in enumerate(lines) if line.lower() == "[network data]"), 0)
    data = [line for line in lines[start:] if line and re.match(r"[-+.0-9]", line)]
    numbers = [float(word) for line in data for word in line.split()]
    cells = [
        (i, j)
        for i in range(ports)
        for j in range(ports)
        if matrix == "full" or (j <= i if matrix == "lower" else j >= i)
    ]
    width = 1 + 2 * len(cells)
    form = next((word for word in option if word in ("RI", "DB")), "MA")
    unit = UNIT_HZ[next((word for word in option if word in UNIT_HZ), "GHZ")]
    parsed = Parsed([], [], references * (ports if len(references) == 1 else 1))
    for at in range(0, len(numbers), width):
        parsed.freq_hz.append(numbers[at] * unit)
        rows = [[0j] * ports for _ in range(ports)]
        for k, (i, j) in enumerate(cells):
            value = number(form, *numbers[at + 1 + 2 * k : at + 3 + 2 * k])
            if ports == 2 and matrix == "full" and order == "21_12":
                i, j = j, i
            rows[i][j] = value
            if matrix != "full":
                rows[j][i] = value
        parsed.s.append(rows)
    return parsed


def number(form: str, first: float, second: float) -> complex:
    """One pair in the format of the option line."""
    if form == "RI":
        return complex(first, second)
    size = 10 ** (first / 20) if form == "DB" else first
    return cmath.rect(1, math.radians(second)) * size
