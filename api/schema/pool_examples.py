"""Examples of the pool of groups. Invented."""

from __future__ import annotations

from typing import Any

POOL: dict[str, Any] = {
    "in_pool": True,
    "release": {
        "number": 3,
        "made_at": "2026-11-29T20:00:00Z",
        "fetched_at": "2026-11-29T21:00:00Z",
        "groups": 14,
        "designs": 41,
    },
    "keeps": None,
}

POOLED_ROW: dict[str, Any] = {
    "design": "k7m3qv9c2dxt",
    "recipe_sha256": "5f" * 32,
    "title": "12 turns RG-316 on FT240-31 (61 mm, mix 31)",
    "kind": "common_mode",
    "band": "40m",
    "limit": 20.0,
    "chance": 0.9,
    "verdict": "typically_meets",
    "groups": 14,
    "contributors": "20-49",
    "devices": "20-49",
    "median": 27.5,
    "p10": 23.0,
    "p25": 25.0,
    "p75": 29.5,
    "p90": 31.0,
}

MESSAGE: dict[str, Any] = {"key": "a1" * 32, "content": "H4sIAAAAAAAC/w==", "signature": "b2" * 64}
