"""Opaque cursors: a page says where the next one begins without saying how that is counted."""

from __future__ import annotations

import base64
import binascii
import json
from collections.abc import Callable
from dataclasses import dataclass
from datetime import UTC, date, datetime
from typing import Any, Generic, TypeVar

from django.db.models import Q, QuerySet

from measurements.errors import BenchnightError

Row = TypeVar("Row")

DEFAULT_LIMIT = 50

MAX_LIMIT = 200


T = TypeVar("T")


@dataclass(frozen=True)
class Page(Generic[T]):
    """One page of a list; `next_cursor` is opaque and None on the last page.

    count: asks how many rows all pages hold; called only where somebody wants to know. None: nobody can say.
    """

    results: tuple[T, ...]
    next_cursor: str | None
    count: Callable[[], int] | None = None


def encode_cursor(position: dict[str, Any]) -> str:
    """Return a position as an opaque text that is safe in an address."""
    return base64.urlsafe_b64encode(json.dumps(position, separators=(",", ":")).encode()).decode().rstrip("=")


def decode_cursor(cursor: str | None, **expected: type) -> dict[str, Any] | None:
    """Return the position in a cursor, None for no cursor.

    expected: the names it must have and their types. Raises BenchnightError `cursor.invalid`.
    """
    if not cursor:
        return None
    try:
        padded = cursor + "=" * (-len(cursor) % 4)
        position = json.loads(base64.b64decode(padded.encode("ascii"), altchars=b"-_", validate=True))
    except (binascii.Error, UnicodeError, ValueError, RecursionError) as error:
        raise _invalid_cursor() from error
    fits = isinstance(position, dict) and position.keys() == expected.keys()
    if not fits or not all(type(position[name]) is kind for name, kind in expected.items()):
        raise _invalid_cursor()
    if any(isinstance(value, int) and not 0 <= value < 2**62 for value in position.values()):
        raise _invalid_cursor()
    # PostgreSQL stores no NUL, and no key of ours holds anything unprintable
    if any(isinstance(value, str) and not value.isprintable() for value in position.values()):
        raise _invalid_cursor()
    return position


def paginate_newest_first(rows: QuerySet[Any, Row], moment: str, cursor: str | None, size: int) -> Page[Row]:
    """Read a page of `size` rows, the newest by the field `moment` first.

    The cursor holds the moment and key of the page's last row, which its reader has just been shown. A row
    number would count what the whole group stores. Moments may be equal: the key decides then.
    """
    position = decode_cursor(cursor, at=str, key=str)
    whole, rows = rows, rows.order_by(f"-{moment}", "-key")
    if position is not None:
        at = _parse_moment(position["at"])
        rows = rows.filter(Q(**{f"{moment}__lt": at}) | Q(**{moment: at, "key__lt": position["key"]}))
    found = list(rows[: size + 1])
    if len(found) <= size and position is None:
        return Page(tuple(found), None, lambda: len(found))
    if len(found) <= size:
        return Page(tuple(found), None, whole.count)
    last = found[size - 1]
    following = encode_cursor({"at": getattr(last, moment).isoformat(), "key": last.key})  # type: ignore[attr-defined]
    return Page(tuple(found[:size]), following, whole.count)


def paginate_in_order(rows: QuerySet[Any, Row], order: str, cursor: str | None, size: int) -> Page[Row]:
    """Read a page of `size` rows in the order of a field, `-` before its name for the last first.

    The field holds moments or days. The cursor belongs to its order. Raises BenchnightError `cursor.invalid`.
    """
    field, falls = order.removeprefix("-"), order.startswith("-")
    if order == "-recorded_at":
        return paginate_newest_first(rows, field, cursor, size)
    position = decode_cursor(cursor, at=str, key=str, order=str)
    whole, rows = rows, rows.order_by(order, "-key" if falls else "key")
    if position is not None:
        if position["order"] != order:
            raise _invalid_cursor()
        at, past = _parse_place(position["at"]), "lt" if falls else "gt"
        rows = rows.filter(Q(**{f"{field}__{past}": at}) | Q(**{field: at, f"key__{past}": position["key"]}))
    found = list(rows[: size + 1])
    if len(found) <= size:
        return Page(tuple(found), None, whole.count)
    last = found[size - 1]
    place = {"at": getattr(last, field).isoformat(), "key": last.key, "order": order}  # type: ignore[attr-defined]
    return Page(tuple(found[:size]), encode_cursor(place), whole.count)


def check_limit(limit: int) -> int:
    """Return the page size, refused outside 1 to 200 (`limit.out_of_range`)."""
    if not 1 <= limit <= MAX_LIMIT:
        raise BenchnightError(
            "limit.out_of_range", f"A page holds 1 to {MAX_LIMIT} rows; ask for that many.", field="limit"
        )
    return limit


def _parse_moment(text: str) -> datetime:
    try:
        at = datetime.fromisoformat(text)
        if at.tzinfo is None:
            raise _invalid_cursor()
        return at.astimezone(UTC)
    except (ValueError, OverflowError) as error:  # year 1 ahead of UTC is no moment in UTC
        raise _invalid_cursor() from error


def _parse_place(text: str) -> date | datetime:
    """Read a day, or else a moment. Raises BenchnightError `cursor.invalid`."""
    try:
        return date.fromisoformat(text)
    except ValueError:
        return _parse_moment(text)


def _invalid_cursor() -> BenchnightError:
    return BenchnightError(
        "cursor.invalid", "This cursor is not one of ours. Begin again without it.", field="cursor"
    )
