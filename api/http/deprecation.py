"""Operations that will go: told on every reply of theirs, in good time.

Deprecation is RFC 9745, Sunset RFC 8594. Within `/api/v1/` nothing goes, so the table is empty until there
is a `/api/v2/`; whoever fills it says so in CHANGES.md.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime

from django.http import HttpResponseBase
from django.utils.http import http_date

from api.http import paging


@dataclass(frozen=True)
class DeprecatedOperation:
    """since: from when on nobody should begin to use it. sunset: when it goes. See: what to read about it."""

    since: datetime
    sunset: datetime
    see: str


# operation id -> its notice
OPERATIONS: Mapping[str, DeprecatedOperation] = {}


def announce_deprecation(response: HttpResponseBase, operation: str | None) -> None:
    """Add Deprecation, Sunset and a link, if the operation is in the table."""
    found = OPERATIONS.get(operation or "")
    if found is None:
        return
    response["Deprecation"] = f"@{int(found.since.timestamp())}"
    response["Sunset"] = http_date(found.sunset.timestamp())
    paging.add_link(response, found.see, "deprecation")
