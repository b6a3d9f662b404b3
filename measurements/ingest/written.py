"""What a steward writes beside a change: why a test is left out, where a figure comes from."""

from __future__ import annotations

import unicodedata

from measurements.errors import BenchnightError

LEAST, MOST = 3, 500


def text(given: str, field: str, code: str, wanted: str) -> str:
    """The text in one line of plain spaces.

    wanted: what belongs here, for the refusal. Raises BenchnightError `code`, naming the field.
    """
    plain = " ".join(str(given).split())
    if not LEAST <= len(plain) <= MOST or any(unicodedata.category(char)[0] == "C" for char in plain):
        raise BenchnightError(code, f"{wanted} It takes {LEAST} to {MOST} characters.", field=field)
    return plain
