"""Sweep -> Touchstone text of version 1 (Hz, S, RI), which reads back to the same numbers.

Decisions: columns that were not measured are written as zeros, the way analysers do, with a comment
that names them (the reader finds them again); a sweep of sizes without phase is refused, because
the format has no way to say so. References that differ from port to port use the option line of
version 1.1. Numbers have 17 significant digits, so they read back bit for bit.
"""

from __future__ import annotations

import textwrap
from collections.abc import Sequence

import numpy as np

from measurements.rf.bounds import refusal
from measurements.rf.sweep import Sweep

_WIDTH = 100
MAX_COMMENT_CHARACTERS = 4_000


def write(sweep: Sweep, *, comments: Sequence[str] = ()) -> str:
    """The text of a .s1p to .s4p file.

    comments: sentences for the head; made plain ASCII without line ends, folded at 100 characters
    and led by a dash, so that no reader takes one for an instruction.

    Raises BenchnightError `sweep.magnitude_only`.
    """
    if sweep.magnitude_only:
        raise refusal("magnitude_only", "This sweep has no phase and cannot be written as Touchstone.")
    said = [*comments, *_unmeasured(sweep)]
    head = [f"! - {line}" for comment in said for line in _folded(comment)]
    references = sweep.z0_ohm[:1] if len(set(sweep.z0_ohm.tolist())) == 1 else sweep.z0_ohm
    option = "# Hz S RI R " + " ".join(repr(float(ohm)) for ohm in references)
    return "\n".join([*head, option, *_rows(sweep)]) + "\n"


def _unmeasured(sweep: Sweep) -> list[str]:
    if sweep.measured.all():
        return []
    names = [f"S{i + 1}{j + 1}" for i, j in zip(*np.nonzero(~sweep.measured), strict=True)]
    return [f"Not measured, written as zeros: {', '.join(names)}."]


def _folded(comment: str) -> list[str]:
    plain = comment[:MAX_COMMENT_CHARACTERS].encode("ascii", "replace").decode("ascii")
    plain = "".join(mark if mark.isprintable() else " " for mark in plain)
    return textwrap.wrap(plain, _WIDTH)


def _rows(sweep: Sweep) -> list[str]:
    """One line for one and two ports (S11 S21 S12 S22), one for each matrix row above."""
    ports = sweep.ports
    s = np.where(sweep.measured, sweep.s, 0)
    if ports == 2:
        s = s.transpose(0, 2, 1)
    flat = np.ascontiguousarray(s.reshape(sweep.points, ports**2)).view(np.float64)
    per_line = 2 * ports if ports > 2 else 2 * ports**2
    lines = []
    for freq_hz, values in zip(sweep.freq_hz.tolist(), flat.tolist(), strict=True):
        words = [repr(value) for value in values]
        chunks = [" ".join(words[at : at + per_line]) for at in range(0, len(words), per_line)]
        lines.append(f"{freq_hz!r} {chunks[0]}")
        lines.extend(f"  {chunk}" for chunk in chunks[1:])
    return lines
