"""Examples of described analysers, invented."""

from __future__ import annotations

from typing import Any

ANALYSER_INPUT: dict[str, Any] = {
    "name": "the small one",
    "calibration": "own kit, at the clips",
    "paths": 1,
    "drift_db": 0.05,
}

ANALYSER: dict[str, Any] = {
    "id": "k7w2m9x4q3ab",
    "name": "the small one",
    "calibration": "own kit, at the clips",
    "stated": {"paths": 1, "drift_db": 0.05},
    "measured": {
        "directivity": 0.0081,
        "source_match": 0.0112,
        "reflection_tracking": 0.0104,
        "reflection_sum": None,
        "port2_match": 0.062,
        "transmission_tracking": None,
        "noise": 0.0011,
        "notes": ["transmission_by_construction"],
        "roles": ["check_line", "check_load", "check_through"],
    },
    "description": {
        "paths": 1,
        "reflection_residual": 0.0112,
        "port2_match_db": 24.1,
        "drift_db": 0.05,
        "noise": 0.0011,
    },
    "checked_on": "2026-05-14",
}
