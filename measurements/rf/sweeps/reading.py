"""The one door for sweep files: bytes and a file name in, a Sweep or a BenchnightError out.

Every refusal has a code "sweep.<what>", the field (the role of the file in its test) and, where a
line is at fault, its number. Nothing in here logs, stores or repeats comments of the file.
"""

from __future__ import annotations

import re

from measurements.errors import BenchnightError
from measurements.rf.sweeps.csv_reading import read_csv
from measurements.rf.sweeps.sweep import Sweep
from measurements.rf.sweeps.text_lines import decode_lines
from measurements.rf.sweeps.touchstone import read_touchstone
from measurements.rf.sweeps.touchstone_gate import TOUCHSTONE_NAME

_OHM_VALUE = r"[0-9.+-][0-9.ed+-]*(?:\s*(?:ohms?|\N{GREEK CAPITAL LETTER OMEGA}|\N{OHM SIGN}))?"
_TOUCHSTONE_OPTION = re.compile(
    rf"#(?:\s+(?:[kmg]?hz|[syzgh]|ma|db|ri|r\s*{_OHM_VALUE}(?:\s+{_OHM_VALUE})*))+\s*(?:!.*)?",
    re.IGNORECASE,
)
_HEAD_LINES = 1_000


def read_sweep(data: bytes, name: str, *, role: str = "sweep") -> Sweep:
    """Read a Touchstone or CSV file.

    name: its file name; only the ending is looked at, for the kind and the port count. role: the
    multipart name, given back as `field` of a refusal.
    """
    try:
        if is_touchstone(data, name):
            return read_touchstone(data, name)
        return read_csv(data)
    except BenchnightError as error:
        if role == "sweep":
            raise
        raise BenchnightError(
            error.code, error.detail, kind=error.kind, field=role, line=error.line
        ) from error


def is_touchstone(data: bytes, name: str) -> bool:
    """Say whether to read as Touchstone: by its name, else by its first line that is no '!' comment."""
    if TOUCHSTONE_NAME.search(name) or name.lower().endswith(".ts"):
        return True
    for line in decode_lines(data)[:_HEAD_LINES]:
        content = line.strip()
        if not content or content.startswith("!"):
            continue
        return bool(content.lower().startswith("[version]") or _TOUCHSTONE_OPTION.fullmatch(content))
    return False
