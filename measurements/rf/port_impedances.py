"""Comments in which a field solver states port impedances, point by point.

A comment is a comment, by the document; but scikit-rf lets these overrule the option line, and a
file whose comments contradict its option line is no bench sweep.
"""

from __future__ import annotations

from measurements.errors import BenchnightError
from measurements.rf.bounds import refusal
from measurements.rf.touchstone_rows import numbers_in


def check_port_impedances(lines: list[str], references_ohm: tuple[float, ...]) -> None:
    """Refuse comments in which a field solver states other port impedances than the option line.

    scikit-rf lets such comments overrule the option line, point by point.
    """
    for number, line in enumerate(lines, 1):
        if "!" not in line or "port impedance" not in line.lower():
            continue
        words = line.lower().partition("port impedance")[2].split()
        try:
            values = numbers_in(number, words)
        except BenchnightError:
            continue  # prose about port impedances, not a solver's table
        pairs = zip(values[0::2], values[1::2], strict=False)
        differs = any(
            abs(complex(*pair) - ohm) > 1e-6 * ohm for pair, ohm in zip(pairs, references_ohm, strict=False)
        )
        if len(values) % 2 == 0 and differs:
            raise refusal(
                "port_impedance",
                f"A comment in line {number} states a port impedance that differs from the option line. "
                "Export the sweep renormalised to one real reference.",
                number,
            )
