"""Examples of pictures, claims and the stewards' queue; keys and names are invented."""

from __future__ import annotations

from api.schema.examples import DESIGN, DEVICE, TEST

PICTURE = {
    "id": "p4r8t2w6y9bc",
    "device": DEVICE["id"],
    "caption": "Where the braid comes out",
    "width_px": 1600,
    "height_px": 1200,
    "added_at": "2025-03-02T20:20:00Z",
}
CLAIM_INPUT = {"code": "K7MW-2QXP"}
CLAIM = {"devices": 2}
REVIEW = {
    "id": TEST["id"],
    "device": DEVICE["id"],
    "device_tag": "choke 3",
    "design": DESIGN["id"],
    "design_title": DESIGN["title"],
    "owner": "Ann",
    "kind": "common_mode",
    "method": "s21",
    "measured_on": "2025-03-02",
    "recorded_at": "2025-03-02T20:15:00Z",
    "flags": [],
    "counts": True,
    "shares_bytes": True,
    "excluded_reason": "",
    "excluded_at": None,
    "reviewed_at": None,
}
REVIEW_INPUT = {"decision": "excluded", "reason": "The sweep is of another device."}
WATCHED = {"id": DESIGN["id"], "title": DESIGN["title"], "watched_at": "2025-03-02T20:15:00Z"}
