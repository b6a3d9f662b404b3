"""Touchstone text of the demo's sweeps, in the units and styles that analysers write.

`rf.touchstone_out` writes one exact style; a demo shows what members really send.
"""

from __future__ import annotations

from collections.abc import Sequence

import numpy as np

from measurements.rf.sweep import Complexes, Floats

_UNITS = {"Hz": (1.0, 0), "kHz": (1e3, 1), "MHz": (1e6, 4)}


def touchstone(freq_hz: Floats, s: Complexes, *, unit: str, style: str, comments: Sequence[str]) -> bytes:
    """A file of one or two ports (order 11 21 12 22), 50 ohm.

    freq_hz: (F,); s: (F, P, P); unit: Hz, kHz or MHz; style: RI, MA or DB. A zero stays zero, whatever
    the style, because that is how an analyser writes what it did not measure.
    """
    scale, places = _UNITS[unit]
    columns = s.transpose(0, 2, 1).reshape(len(s), -1)
    first, second, first_places, second_places = _parts(columns, style)
    pairs = np.stack([first, second], axis=-1).reshape(len(s), -1)
    pattern = " ".join([f"%.{places}f"] + [f"%.{first_places}f %.{second_places}f"] * columns.shape[1])
    head = [*(f"! {comment}" for comment in comments), f"# {unit} S {style} R 50"]
    rows = [pattern % (hz, *values) for hz, values in zip(freq_hz / scale, pairs.tolist(), strict=True)]
    return ("\n".join([*head, *rows]) + "\n").encode("ascii")


def _parts(values: Complexes, style: str) -> tuple[Floats, Floats, int, int]:
    """The two numbers of each parameter and their decimal places."""
    if style == "RI":
        return values.real, values.imag, 7, 7
    size, angle = np.abs(values), np.degrees(np.angle(values))
    if style == "MA":
        return size, angle, 7, 3
    decibel = 20 * np.log10(size, out=np.zeros(size.shape), where=size > 0)
    return decibel, angle, 4, 3
