"""Replies and requests of check standards as openapi.yaml shows them. Names are invented."""

from __future__ import annotations

from typing import Any

LISTED: dict[str, Any] = {
    "id": "q4w8n2k7x5mc",
    "device": "c4h9v7z2k8qd",
    "tag": "CHECK-1",
    "design_title": "12 turns coax on FT240-31 (61 mm, mix 31)",
    "marked_at": "2026-01-10T18:02:11Z",
    "counts_from": None,
    "ended_at": None,
    "state": "out_of_control",
}
HOLD: dict[str, Any] = {
    "id": "h7c3v9m2x8kw",
    "check_standard": "q4w8n2k7x5mc",
    "kind": "common_mode",
    "method": "rejection",
    "night": "m7k2w9x4c3dn",
    "measured_on": "2026-05-14",
    "bands": [{"band": "40m", "value": 26.1, "mean": 28.0, "low": 26.9, "high": 29.1}],
    "sentence": "The check standard is out of control: rejection on 40m read 26.1 dB, where 26.9 to 29.1 "
    "dB is usual.",
    "advice": "Sweep the check standard again before anything else.",
    "tests": 7,
    "open": True,
    "ended_at": None,
    "ended_how": "",
    "ended_by": "",
    "reason": "",
}
STANDARD: dict[str, Any] = {
    **LISTED,
    "charts": [
        {
            "kind": "common_mode",
            "method": "rejection",
            "figure": "rejection_db",
            "analyser": "two-port analyser",
            "jig": "two clips on a brass plate",
            "account": "",
            "state": "out_of_control",
            "sessions": 6,
            "least_sessions": 5,
            "bands": [
                {
                    "band": "40m",
                    "sessions": 6,
                    "mean": 28.0,
                    "three_s": 0.6,
                    "low": 26.9,
                    "high": 29.1,
                    "points": [
                        {"on": "2026-05-14", "value": 26.1, "low": 26.9, "high": 29.1, "outside": True}
                    ],
                }
            ],
        }
    ],
    "offsets": [
        {
            "kind": "common_mode",
            "method": "rejection",
            "figure": "rejection_db",
            "bench": "analyser of the shed, two clips on a board",
            "reference": "two-port analyser, two clips on a brass plate",
            "sessions": 1,
            "reference_sessions": 6,
            "bands": [{"band": "40m", "difference": 1.2, "u": 0.5}],
        }
    ],
    "holds": [HOLD],
}
