"""The Idempotency-Key header: a text of its client's choice, such as a UUID, in quotes or without."""

from __future__ import annotations

import re
from collections.abc import Mapping

from drf_spectacular.utils import OpenApiParameter

from measurements.errors import BenchnightError

HEADER = "Idempotency-Key"
_KEY = re.compile(r'^(?:"(?P<quoted>[\x20\x21\x23-\x5b\x5d-\x7e]{1,255})"|(?P<bare>[\x21\x23-\x7e]{1,255}))$')

PARAMETER = OpenApiParameter(
    HEADER,
    {"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[!#-~]+$"},
    OpenApiParameter.HEADER,
    description="Any text that is new for each request, such as a UUID. The same request with the same key, "
    "within 24 hours, is done once: the repetition gets the first status, and what was stored.",
)


def key_of(headers: Mapping[str, str]) -> str | None:
    """The key, None where there is none. Raises BenchnightError `idempotency.key`."""
    given = headers.get(HEADER)
    if given is None:
        return None
    found = _KEY.match(given.strip())
    if found is None:
        raise BenchnightError(
            "idempotency.key",
            "Send 1 to 255 printable characters without blanks as Idempotency-Key, such as a UUID.",
            field=HEADER,
        )
    return found["quoted"] or found["bare"]
