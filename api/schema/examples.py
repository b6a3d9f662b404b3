"""Replies and requests as openapi.yaml shows them. Keys and names are invented; a test checks each
against the schema beside it."""

from __future__ import annotations

from typing import Any

from measurements.selectors.tests.band_results import METRICS

SOURCED = {"source": "See the row's own source", "basis": "maker", "as_of": "2025-01-01", "note": ""}


def make_list(*rows: dict[str, Any], following: str | None = None) -> dict[str, Any]:
    """Build a list as a reply."""
    return {"results": list(rows), "next": following, "total": len(rows)}


BAND = {
    **SOURCED,
    "basis": "regulation",
    "region": 2,
    "band": "40m",
    "start_hz": 7.0e6,
    "stop_hz": 7.3e6,
    "valid_from": "1979-01-01",
    "valid_to": None,
}

BENCHMARK = {
    **SOURCED,
    "basis": "common practice",
    "kind": "common_mode",
    "metric": "rejection_db",
    "value": 20.0,
    "unit": "dB",
}

MIX = {
    **SOURCED,
    "name": "31",
    "initial_permeability": 1500.0,
    "curie_c": 130.0,
    "resistivity_ohm_cm": 3000.0,
    "permeability": [{"frequency_hz": 1.0e6, "mu_real": 1490.0, "mu_imaginary": 260.0}],
}

CORE = {
    **SOURCED,
    "part": "2631803802",
    "name": "FT240-31",
    "shape": "toroid",
    "outer_mm": 61.0,
    "inner_mm": 35.55,
    "height_mm": 12.7,
    "mix": "31",
    "al_nh": None,
    "al_tolerance_percent": None,
}

CONDUCTOR = {**SOURCED, "name": "RG-316", "outer_mm": 2.49}

RECIPE = {
    "purpose": "choke",
    "principle": "current",
    "ratio": "1:1",
    "cores": [{"part": "2631803802", "shape": "toroid", "mix": "31", "stacked": 2}],
    "winding": {"turns": 11, "style": "coax", "split": False, "conductor": "RG-316"},
}

BAND_EVIDENCE = {
    "band": "40m",
    "kind": "common_mode",
    "benchmark_db": 20.0,
    "limit": None,
    "chance": 0.94,
    "verdict": "typically_meets",
    "reason": None,
    "devices": 14,
    "contributors": 12,
    "passing": 14,
    "share": 1.0,
    "share_low": 0.9,
    "share_high": 1.0,
    "rejection_db": {
        "median": 31.5,
        "p10": 28.0,
        "p25": 30.0,
        "p75": 33.0,
        "p90": 34.0,
        "tolerance_low": 25.0,
        "histogram": [
            {"from": None, "to": 30.0, "devices": 4},
            {"from": 30.0, "to": 33.0, "devices": 6},
            {"from": 33.0, "to": None, "devices": 4},
        ],
    },
}

DESIGN = {
    "id": "7tq4mzk2pxw9",
    "title": "11 turns RG-316 on 2 stacked FT240-31 (61 mm, mix 31)",
    "recipe": RECIPE,
    "purpose": "choke",
    "principle": "current",
    "ratio": "1:1",
    "mix": "31",
    "core": "2631803802",
    "core_count": 2,
    "turns": 11,
    "style": "coax",
    "kind": "common_mode",
    "evidence": [BAND_EVIDENCE],
    "joint": None,
    "own_devices": 1,
}

CURVES = {
    "kind": "common_mode",
    "freq_hz": [1.0e6, 7.1e6, 30.0e6],
    "rejection_db": {"median": [18.0, 31.5, 24.0], "p10": [17.0, 28.0, 20.5], "p90": [19.5, 34.0, 27.5]},
    "resistance_ohm": {"median": [203.0, 3152.0, 904.0], "p10": None, "p90": None},
    "reactance_ohm": {"median": [688.0, 199.0, -1092.0], "p10": None, "p90": None},
    "impedance_ohm": {"median": [708.0, 3162.0, 1413.0], "p10": None, "p90": None},
    "devices": 14,
}

CHART = {
    "$schema": "https://vega.github.io/schema/vega-lite/v6.json",
    "description": "Rejection over frequency",
}

EVIDENCE_ROW = {
    "release": 4,
    "quarter": "2025-Q2",
    "design": "7tq4mzk2pxw9",
    "title": "1:1 choke, 12 turns of coax on 2631803802",
    "purpose": "choke",
    "principle": "current",
    "ratio": "1:1",
    "mix": "31",
    "core_part": "2631803802",
    "cores": 1,
    "stacked": 1,
    "turns": 12,
    "style": "coax",
    "conductor": "RG-400",
    **BAND_EVIDENCE,
    "loss_db": None,
    "swr": None,
}

RELEASE = {
    "number": 4,
    "made_at": "2025-04-01T00:00:00Z",
    "quarter": "2025-Q2",
    "engine_version": "1.0.0",
    "region": 2,
    "thresholds": {
        "min_contributors": 3,
        "public_min_contributors": 5,
        "min_joiners": 3,
        "detail_min_contributors": 10,
        "votes_per_contributor": 3,
    },
    "counts": {"designs": 12, "replaced": 2, "kept": 10},
    "content_sha256": "0" * 64,
    "files": [
        {
            "name": "evidence.csv",
            "circle": "public",
            "media_type": "text/csv",
            "size": 5120,
            "sha256": "0" * 64,
            "address": "https://bench.example/api/v1/releases/4/files/evidence.csv/",
        }
    ],
}

DEVICE_INPUT = {
    "design": "7tq4mzk2pxw9",
    "tag": "choke 3",
    "origin": "homebrew",
    "built_on": "2025-02-11",
    "notes": "",
    "place": "mast two, 8 m up",
}

DEVICE = {
    **DEVICE_INPUT,
    "id": "k4v8dd2wxr6n",
    "design_title": DESIGN["title"],
    "registered_at": "2025-02-12T19:04:00Z",
    "version": 1,
    "owner": "ada",
    "tests": 1,
    "retired_on": None,
    "kind": "",
    "ratio": "",
    "make": "",
    "of_group": False,
    "lent_to": "",
    "lent_on": None,
}

LISTED_DEVICE = {
    **DEVICE,
    "state": "overdue",
    "reasons": ["test_overdue", "inspected"],
    "reason": "Common mode on 40m: last tested on 2 March 2025; a test is due every 365 days and was due on "
    "2 March 2026.",
    "next_step": "Make a common-mode test.",
    "due_on": "2026-03-02",
}

FLAG = {
    "code": "unmeasured_columns",
    "severity": "note",
    "message": "The sweep sweep holds no measurement of S12, S22; they were not used.",
    "band": None,
}

RESULT = {
    "kind": "common_mode",
    "method": "s21",
    "ratio": "1:1",
    "reference_ohm": 50.0,
    "engine_version": "1.0.0",
    "span": {"start_hz": 1.0e6, "stop_hz": 30.0e6, "points": 401},
    "measured": {"s11": True, "s21": True, "s12": False, "s22": False},
    "bands": [
        {
            "band": "40m",
            "start_hz": 7.0e6,
            "stop_hz": 7.3e6,
            "points_in_band": 5,
            "coverage": "full",
            "covered_start_hz": 7.0e6,
            "covered_stop_hz": 7.3e6,
            "meets": True,
            "decision": "meets",
            "uncertainty": {"rejection_db": 0.9, "impedance_ohm": 320.0, "resistance_ohm": 340.0},
            "rejection_db": {"worst": 30.2, "worst_hz": 7.3e6, "centre": 31.9, "best": 32.8},
            "impedance_centre_ohm": {"re": 3150.0, "im": 240.0},
        }
    ],
    "summary": {"benchmark_db": 20.0, "meets_from_hz": 1.6e6, "meets_to_hz": 30.0e6},
    "flags": [FLAG],
    "inputs": [
        {
            "role": "sweep",
            "source": "touchstone",
            "points": 401,
            "start_hz": 1.0e6,
            "stop_hz": 30.0e6,
            "notes": [],
        }
    ],
}

TEST = {
    "id": "m2c9q7ztb4hk",
    "device": DEVICE["id"],
    "device_tag": "choke 3",
    "design": DESIGN["id"],
    "design_title": DESIGN["title"],
    "kind": "common_mode",
    "method": "s21",
    "measured_on": "2025-03-02",
    "recorded_at": "2025-03-02T20:15:00Z",
    "settings": {"kind": "common_mode", "ratio": "1:1"},
    "result": RESULT,
    "sweeps": [
        {
            "role": "sweep",
            "name": "choke3.s2p",
            "points": 401,
            "ports": 2,
            "size": 40100,
            "sha256": "0" * 64,
        }
    ],
    "evidence": "counts",
    "published": False,
    "night": None,
    "excluded_reason": "",
    "waits_for_recipe": False,
    "recipe_confirmed": False,
    "private": False,
    "is_check_standard": False,
    "waiting": [],
}

BAND_RECORD = {
    "test": TEST["id"],
    "device": DEVICE["id"],
    "device_tag": "choke 3",
    "design": DESIGN["id"],
    "kind": "common_mode",
    "method": "s21",
    "ratio": "1:1",
    "measured_on": "2025-03-02",
    "night": None,
    "evidence": "counts",
    "band": "40m",
    "start_hz": 7.0e6,
    "stop_hz": 7.3e6,
    "points_in_band": 4,
    "coverage": "full",
    "meets": True,
    "decision": "meets",
    **dict.fromkeys(METRICS),
    "rejection_db": {"worst": 30.2, "worst_hz": 7.0e6, "centre": 30.4, "best": 30.6},
    "uncertainty": {**dict.fromkeys(METRICS), "rejection_db": 1.1},
    "flags": "",
}

COMPARISON = {
    "test": TEST["id"],
    "design": DESIGN["id"],
    "design_title": DESIGN["title"],
    "release": 4,
    "bands": [
        {
            "band": "40m",
            "own_db": 30.2,
            "devices": 7,
            "percentile": 35.7,
            "median_db": 31.4,
            "from_median_db": -1.2,
        }
    ],
    "checks": [],
    "basis": "design",
    "outlier": True,
    "causes": [
        {
            "code": "turn_count",
            "message": "Capacitance aside, your impedance is 0.71 of the median: 12 turns "
            "would behave as 10 (10.1 "
            "by the square root of the ratio). Count the turns.",
            "share": 0.88,
            "from_hz": 1000000.0,
            "to_hz": 8900000.0,
            "impedance_ratio": 0.71,
            "behaves_as": 10.11,
            "extra_capacitance_f": None,
            "self_resonance_hz": None,
            "median_self_resonance_hz": None,
            "leak_ohm": None,
            "floor_db": None,
            "mix": None,
        }
    ],
    "likelihoods": [{"code": "turn_count", "what": "10 turns in place of 12", "share": 0.88}],
    "ratio_diagnosis": None,
}

INDEX = {
    "name": "Benchnight",
    "group_name": "Benchnight",
    "demo": False,
    "engine_version": "1.0.0",
    "region": 2,
    "release": 4,
    "addresses": {"designs": "https://bench.example/api/v1/designs/"},
}


# Inspections and service states as openapi.yaml shows them. Keys and names are invented.

DEVICE_KEY, TEST_KEY = "k4v8dd2wxr6n", "m2c9q7ztb4hk"

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
    "device": DEVICE_KEY,
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
    "device": DEVICE_KEY,
    "state": "watch",
    "reasons": [
        {
            "code": "inspection_watch",
            "weight": "watch",
            "message": "Inspection: to be watched at moisture (2 March 2025).",
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
    "baseline": {"test": TEST_KEY, "kind": "common_mode", "measured_on": "2024-03-02", "chosen": True},
    "newest_test": TEST_KEY,
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
        "watch_margin_db": 0.0,
        "drift_db": 3.0,
        "drift_loss_db": 0.25,
        "drift_swr": 0.2,
    },
    "judged_on": "2025-04-01",
    "own_nights_only": False,
    "rests_on": [
        {
            "kind": "common_mode",
            "band": "40m",
            "message": "rejection 30.9 dB (benchmark 20 dB)",
            "answered_on": "2025-03-02",
            "test": TEST_KEY,
        }
    ],
    "not_covered": ["Insertion loss: not tested."],
    "items": [
        {"item": "terminals", "state": "ok", "answered_on": "2025-03-02"},
        {"item": "moisture", "state": "watch", "answered_on": "2025-03-02"},
        {"item": "core", "state": "not_looked", "answered_on": None},
    ],
}
