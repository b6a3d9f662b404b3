"""Replies and requests of club nights and intakes as openapi.yaml shows them. Names are invented."""

from __future__ import annotations

from typing import Any

JIG_FIGURES: dict[str, Any] = {
    "swept": ["jig_through", "jig_open"],
    "benchmark_db": 20.0,
    "floor_db": 54.2,
    "floor_hz": 29.7e6,
    "good_up_to_db": 44.2,
    "good_enough": True,
    "through_loss_db": 0.1,
    "open_impedance_ohm": 51000.0,
    "short_impedance_ohm": None,
    "open_capacitance_f": 1.05e-13,
    "bands": [
        {
            "band": "10m",
            "start_hz": 28.0e6,
            "stop_hz": 29.7e6,
            "floor_db": 54.2,
            "floor_hz": 29.7e6,
            "good_up_to_db": 44.2,
            "good_enough": True,
            "through_loss_db": 0.1,
            "open_impedance_ohm": 51000.0,
            "short_impedance_ohm": None,
        }
    ],
    "sentence": "Good for readings up to 44.2 dB.",
    "advice": [],
    "tests_before": 0,
}
NIGHT_INPUT = {
    "held_on": "2026-05-14",
    "title": "May bench",
    "instrument": "two-port analyser",
    "calibrated": True,
    "resistors": "50, 200 and 450 ohm, 1 %, 0.6 W",
}
NIGHT_LISTED: dict[str, Any] = {
    **NIGHT_INPUT,
    "id": "m7k2w9x4c3dn",
    "analyser": None,
    "analyser_name": "",
    "jig": "two clips on a brass plate",
    "calibration": "open, short, load and through at the clips",
    "notes": "",
    "opened_by": "Osric",
    "opened_at": "2026-05-14T17:02:11Z",
    "closed_at": None,
    "version": 2,
    "device_count": 1,
    "test_count": 1,
}
NIGHT: dict[str, Any] = {
    **NIGHT_LISTED,
    "jig_figures": JIG_FIGURES,
    "jig_files": [{"role": "jig_open", "name": "open.s2p", "size": 23871, "sha256": "9f" * 32}],
    "operators": ["Osric"],
    "contributors": [{"id": "p3x8n5c9t2mw", "name": "Gwenna", "is_guest": True, "devices": 1}],
    "devices": [
        {
            "id": "c4h9v7z2k8qd",
            "tag": "G-1",
            "design": "k3m8p5x2w9ac",
            "design_title": "11 turns coax on 2 stacked FT240-31 (61 mm, mix 31)",
            "ratio": "1:1",
            "owner": "Gwenna",
            "contributor": "p3x8n5c9t2mw",
            "is_guest": True,
            "tests": 1,
            "newest": [],
        }
    ],
    "intakes": [
        {
            "id": "w8q5d2n7x3kc",
            "made_at": "2026-05-14T19:40:00Z",
            "state": "done",
            "done": 2,
            "total": 2,
            "refused": 1,
        }
    ],
}
BUNDLE_IMPORT: dict[str, Any] = {
    "id": "k4m8x2c7w9qd",
    "made_at": "2026-05-15T09:10:00Z",
    "state": "done",
    "applied": True,
    "new": 184,
    "changed": 1,
    "unchanged": 3,
    "conflicts": 0,
    "lines": ["changed: device d2x7k9m4w3cq: G-7; place: here '', in the bundle 'Hut'"],
    "unlisted": 183,
    "refused": None,
}
PERSON_MOVE = {"giver": "p2k9w5x7m3dc", "receiver": "q8m4x2k6w9nd"}
INTAKE_ANSWER = {"group": "tag:NB-0l", "answer": "yes"}

INTAKE: dict[str, Any] = {
    "id": "w8q5d2n7x3kc",
    "night": "m7k2w9x4c3dn",
    "made_at": "2026-05-14T19:40:00Z",
    "state": "done",
    "done": 2,
    "total": 2,
    "files": [
        {
            "file": "g1.s2p",
            "number": 1,
            "state": "stored",
            "reason": None,
            "test": "t6x2m9w4k7pz",
            "question": None,
        },
        {
            "file": "g2.s2p",
            "number": 2,
            "state": "refused",
            "reason": "Line 3, column ratio: Write a ratio such as 4:1.",
            "test": None,
            "question": None,
        },
    ],
}

CONFIRM_INPUT: dict[str, Any] = {"contributors": ["p3x8n5c9t2mw"]}
CONFIRMED: dict[str, Any] = {"confirmed": 1}
JOIN_INPUT: dict[str, Any] = {"first": "p3x8n5c9t2mw", "second": "q7r4k2d8v5hz"}
FOLDER: dict[str, Any] = {
    "total": 2,
    "stored": 1,
    "already_there": 0,
    "refused": 0,
    "waiting": 1,
    "wait_s": 1260,
    "files": [
        {"file": "bench-7.s2p", "state": "stored", "reason": None, "test": "t6x2m9w4k7pz"},
        {
            "file": "bench-8.s2p",
            "state": "waiting",
            "reason": "The limit of 60 uploads an hour is used up. Wait 1260 s, and watch the RateLimit "
            "header of each reply.",
            "test": None,
        },
    ],
}
