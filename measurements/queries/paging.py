"""Opaque cursors: a page says where the next one begins without saying how that is counted."""

from __future__ import annotations

import base64
import binascii
import json
from typing import Any

from measurements.errors import BenchnightError

DEFAULT_LIMIT = 50
MOST = 200


def encode(position: dict[str, Any]) -> str:
    """A position as an opaque text that is safe in an address."""
    return base64.urlsafe_b64encode(json.dumps(position, separators=(",", ":")).encode()).decode().rstrip("=")


def decode(cursor: str | None, **expected: type) -> dict[str, Any] | None:
    """The position in a cursor, None for no cursor.

    expected: the names it must have and their types. Raises BenchnightError `cursor.invalid`.
    """
    if not cursor:
        return None
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        position = json.loads(base64.b64decode(padded.encode("ascii"), altchars=b"-_", validate=True))
    except (binascii.Error, UnicodeError, ValueError) as error:
        raise _invalid() from error
    fits = isinstance(position, dict) and position.keys() == expected.keys()
    if not fits or not all(type(position[name]) is kind for name, kind in expected.items()):
        raise _invalid()
    if any(isinstance(value, int) and not 0 <= value < 2**62 for value in position.values()):
        raise _invalid()
    return position


def checked_limit(limit: int) -> int:
    """The page size, refused outside 1 to 200 (`limit.out_of_range`)."""
    if not 1 <= limit <= MOST:
        raise BenchnightError(
            "limit.out_of_range", f"A page holds 1 to {MOST} rows; ask for that many.", field="limit"
        )
    return limit


def _invalid() -> BenchnightError:
    return BenchnightError(
        "cursor.invalid", "This cursor is not one of ours. Begin again without it.", field="cursor"
    )
