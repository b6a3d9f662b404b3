"""Inspections and service states as openapi.yaml shows them. Keys and names are invented."""

from __future__ import annotations

from typing import Any

DEVICE, TEST = "k4v8dd2wxr6n", "m2c9q7ztb4hk"
INSPECTION_INPUT: dict[str, Any] = {
    "inspected_on": "2025-03-02",
    "findings": {
        "terminals": {"state": "ok", "note": ""},
        "moisture": {"state": "watch", "note": "a few drops under the lid"},
    },
    "dc_ohm": 0.12,
    "notes": "",
}
INSPECTION = {
    "id": "w3x8n5k2v7dq",
    "device": DEVICE,
    "inspected_on": "2025-03-02",
    "recorded_at": "2025-03-02T20:20:00Z",
    "recorded_by": "ada",
    "findings": [
        {"item": "terminals", "state": "ok", "note": ""},
        {"item": "moisture", "state": "watch", "note": "a few drops under the lid"},
    ],
    "dc_ohm": 0.12,
    "notes": "",
}
SERVICE = {
    "device": DEVICE,
    "state": "watch",
    "reasons": [
        {
            "code": "inspection_watch",
            "weight": "watch",
            "message": "Inspection, 2 March 2025: to be watched at moisture.",
            "band": None,
        },
        {
            "code": "meets",
            "weight": "note",
            "message": "Common mode, 2 March 2025: within the limit on all 9 bands judged; nearest to it "
            "24.1 dB on 160m (benchmark 20 dB).",
            "band": None,
        },
    ],
    "next_step": {
        "code": "inspect",
        "message": "Look again at what the inspection noted, and say how it is now.",
        "kind": None,
    },
    "due_on": "2026-03-02",
    "due_since": None,
    "due_reason": "",
    "retired_on": None,
    "baseline": {"test": TEST, "kind": "common_mode", "measured_on": "2024-03-02", "chosen": True},
    "newest_test": TEST,
    "change": [
        {
            "band": "40m",
            "baseline_db": 31.4,
            "newest_db": 30.9,
            "change_db": -0.5,
            "allowed_db": 3.0,
            "real_from_db": 0.9,
            "real": False,
            "beyond_allowed": False,
        }
    ],
    "repeatability": {"whose": "own", "sd_db": {"40m": 0.25}, "dof": 6, "needed_dof": 5},
    "limits": {
        "benchmark_db": 20.0,
        "swr": 1.5,
        "loss_db": 0.5,
        "test_interval_days": 365,
        "inspection_interval_days": 365,
        "watch_margin_db": 3.0,
        "drift_db": 3.0,
    },
    "judged_on": "2025-04-01",
    "own_nights_only": False,
}
