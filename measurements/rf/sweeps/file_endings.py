"""Endings of file names: those that an upload may have, and the one under which its bytes leave again."""

from __future__ import annotations

import re

from measurements.errors import BenchnightError
from measurements.rf.sweeps.reading import is_touchstone, read_sweep
from measurements.rf.sweeps.touchstone_gate import TOUCHSTONE_NAME

TABLES = ("csv", "tsv")
# of these the content alone says what it is; analysers export both kinds under them
NEUTRAL = ("", "txt", "dat", "asc")
_ENDING = re.compile(r"\.([A-Za-z0-9]{1,8})$")


def check_ending(data: bytes, name: str, *, role: str = "sweep") -> None:
    """Check that the ending of an upload's name is one of sweeps and fits what the file holds.

    Raises BenchnightError `sweep.ending` naming the role. A Touchstone ending on other content is refused by
    its reader, with the line.
    """
    found = _ENDING.search(name)
    ending = found[1].lower() if found else ""
    if ending in NEUTRAL or ending == "ts" or TOUCHSTONE_NAME.search(name):
        return
    if ending not in TABLES:
        raise BenchnightError(
            "sweep.ending",
            f"The name ends in .{ending}. Sweeps end in .s1p to .s4p, .ts, .csv or .txt: export again, "
            "or correct the ending.",
            field=role,
        )
    if is_touchstone(data, name):
        raise BenchnightError(
            "sweep.ending",
            f"The name ends in .{ending}, but the file is Touchstone. Name it .s1p for one port, "
            ".s2p for two.",
            field=role,
        )


def find_safe_ending(data: bytes, name: str) -> str:
    """Find the ending that tells what stored bytes are: `s1p` to `s4p`, `ts`, `csv`, or `txt` for others."""
    port_ending = TOUCHSTONE_NAME.search(name)
    if port_ending:
        return port_ending[0][1:].lower()
    if name.lower().endswith(".ts"):
        return "ts"
    if not is_touchstone(data, name):
        return "csv"
    try:
        return f"s{read_sweep(data, name).ports}p"
    except BenchnightError:
        # of an older engine, which read what today's does not
        return "txt"
