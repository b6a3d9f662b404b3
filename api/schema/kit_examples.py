"""Examples of kit for openapi.yaml. Invented."""

from __future__ import annotations

from typing import Any

OFFER: dict[str, Any] = {
    "id": "f7f7f7f7f7f7",
    "device": "d7d7d7d7d7d7",
    "device_tag": "NB-01",
    "to_group": True,
    "name": "",
    "owner": "Ada",
    "offered_at": "2026-05-14T18:00:00Z",
}
LOAN: dict[str, Any] = {
    "id": "h7h7h7h7h7h7",
    "borrower": "Gwenna",
    "lent_on": "2026-05-14",
    "returned_on": None,
    "lent_by": "Ada",
}
DIFFERENCE: dict[str, Any] = {
    "rows": [
        {"line": 2, "id": None, "tag": "K-1", "changes": {"tag": ["", "K-1"], "place": ["", "Hill site"]}}
    ],
    "same": 0,
    "fingerprint": "0123456789abcdef0123456789abcdef",
    "change": None,
}
