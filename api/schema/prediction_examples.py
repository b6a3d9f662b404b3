"""Replies and requests of predictions as openapi.yaml shows them; a test checks each against its schema."""

from __future__ import annotations

from typing import Any

from api.schema.examples import RECIPE

BAND: dict[str, Any] = {
    "band": "40m",
    "chance": 0.97,
    "rejection_db": {"p10": 27.1, "median": 29.9, "p90": 32.4},
    "limit": None,
}
NEAR_DESIGN = {
    "design": "7tq4mzk2pxw9",
    "title": "11 turns RG-316 on 2 stacked FT240-31 (61 mm, mix 31)",
    "same": True,
}
RESTS_ON = {
    "mix": "31",
    "learned": True,
    "designs": 4,
    "devices": 22,
    "release": 3,
    "table_from_hz": 1.0e5,
    "table_to_hz": 1.24e8,
}
CAUTION = {"title": "No power rating", "text": "No power rating follows from a small-signal impedance."}
PROPOSAL = {
    "title": "11 turns on 2 stacked FT240-31 (61 mm, mix 31)",
    "recipe": RECIPE,
    "part": "2631803802",
    "mix": "31",
    "stacked": 2,
    "cores_in_all": 2,
    "turns": 11,
    "turns_from": 9,
    "turns_to": 12,
    "turns_that_fit": 30,
    "wire_mm": 2.6,
    "wire_assumed": False,
    "chance": 0.95,
    "bands": [BAND],
    "why": "Nothing limits it on these bands at 20 dB.",
    "built": True,
    "near": [NEAR_DESIGN],
    "rests_on": RESTS_ON,
}
VALIDATION_ERRORS = {"model_db": 0.5, "physics_db": 0.66, "nearest_db": 3.06, "figures": 108}
PROPOSALS = {
    "results": [PROPOSAL],
    "bands": ["40m"],
    "benchmark_db": 20.0,
    "tried": 1386,
    "passed_over": [{"mix": "52", "why": "no permeability table of it is at hand"}],
    "release": 3,
    "validation": {
        "designs": 10,
        "left_out": 10,
        "devices": 50,
        "coverage": 0.88,
        "errors": VALIDATION_ERRORS,
        "by_mix": {"31": VALIDATION_ERRORS},
        "better": True,
    },
    "cautions": [CAUTION],
}
PREDICTION_INPUT = {"recipe": RECIPE, "bands": ["40m"], "benchmark_db": 20.0}
_CURVE = {"p10": [27.1, None], "median": [29.9, None], "p90": [32.4, None]}
PREDICTION = {
    "title": NEAR_DESIGN["title"],
    "recipe": RECIPE,
    "freq_hz": [7.0e6, 1.4e7],
    "rejection_db": _CURVE,
    "resistance_ohm": _CURVE,
    "reactance_ohm": _CURVE,
    "impedance_ohm": _CURVE,
    "self_resonance_hz": {"p10": 5.1e6, "median": 6.0e6, "p90": 7.2e6},
    "stray_capacitance_f": 4.2e-12,
    "chance": 0.97,
    "bands": [BAND],
    "benchmark_db": 20.0,
    "covered_from_hz": 1.0e5,
    "covered_to_hz": 1.24e8,
    "note": "The maker's table of mix 31 reaches from 0.1 to 124 MHz; outside it nothing is predicted.",
    "why": "Nothing limits it on these bands at 20 dB.",
    "fits": True,
    "built": True,
    "near": [NEAR_DESIGN],
    "rests_on": RESTS_ON,
    "cautions": [CAUTION],
}
IDENTIFICATION = {
    "answer": "one",
    "sentence": "Mix 43, of those with a table: it fits within 3%.",
    "mixes": [
        {
            "mix": "43",
            "share": 1.0,
            "left_over": 0.03,
            "ruled_out": False,
            "factor_m": 0.00109,
            "a_l_h": 1.1e-6,
            "stray_capacitance_f": 2.1e-12,
            "impedance_ohm": [310.0],
        }
    ],
    "untabled": ["52", "75"],
    "deciders": [],
    "turns": 5,
    "freq_hz": [1.0e6],
    "impedance_ohm": [312.0],
    "covered_from_hz": 1.0e6,
    "covered_to_hz": 3.0e7,
    "note": "Compared from 1 to 30 MHz, the whole sweep.",
}
_RATIO_BAND = {
    "band": "40m",
    "loss_db": {"p10": 0.46, "median": 0.58, "p90": 0.73},
    "swr": {"p10": 1.1, "median": 1.17, "p90": 1.36},
    "dissipative_db": {"p10": 0.43, "median": 0.53, "p90": 0.65},
    "heat_w_per_100_w": {"p10": 9.4, "median": 11.5, "p90": 13.9},
    "chance": 0.21,
    "why_not": "",
}
RATIO_PROPOSALS = {
    "results": [
        {
            "title": "2:14 turns on 2 stacked 5943003801 (mix 43)",
            "part": "5943003801",
            "mix": "43",
            "stacked": 2,
            "cores_in_all": 2,
            "near_turns": 2,
            "far_turns": 14,
            "wound_ratio": 49.0,
            "compensation_f": 1e-10,
            "wire_m": 1.12,
            "fits": True,
            "bands": [_RATIO_BAND],
            "chance": 0.21,
        }
    ],
    "bands": ["40m"],
    "ratio": "49:1",
    "principle": "voltage",
    "loss_limit_db": 0.5,
    "swr_limit": 1.5,
    "passed_over": [{"mix": "52", "why": "no permeability table of it is at hand"}],
    "release": None,
    "rests_on": "Permeability comes from the makers' tables.",
    "cautions": [CAUTION],
}
