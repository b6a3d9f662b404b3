"""What is kept beside a result is all that it publishes, and nothing else of it."""

from __future__ import annotations

import json
from typing import Any

from measurements.disclosure import published_figures


def band(name: str, coverage: str = "full", worst: float | None = 21.004) -> dict[str, Any]:
    return {
        "band": name,
        "coverage": coverage,
        "start_hz": 1.0,
        "rejection_db": {"worst": worst, "centre": 22.006, "best": 23.0, "worst_hz": 1.8e6},
        "resistance_ohm": {"worst": None, "centre": 1.0},
        "impedance_ohm": {"worst": 1234.56, "centre": 1.0},
    }


RESULT: dict[str, Any] = {
    "kind": "common_mode",
    "method": "y21",
    "flags": [{"code": "ripple", "severity": "exclude", "band": "20m"}],
    "bands": [
        band("160m", "none"),
        band("80m"),
        band("40m", "interpolated"),
        band("20m"),
        band("15m", worst=None),
    ],
    "summary": {"self_resonance_hz": 10123456.0, "inductance_h": 6.19649e-05, "other": 1.0},
}


def test_bands_that_count_are_kept_as_finely_as_they_are_published():
    kept = published_figures.extract_published_figures(RESULT)
    # by hand: decibels to 0.01, ohms to four digits; 160 m is not covered, 20 m left out, 15 m has no figure
    assert kept["bands"] == {
        "80m": ["full", 21.0, 22.01, 23.0, None, 1235.0],
        "40m": ["interpolated", 21.0, 22.01, 23.0, None, 1235.0],
    }
    assert kept["summary"] == {
        "self_resonance_hz": 10120000.0,
        "inductance_h": 6.196e-05,
        "stray_capacitance_f": None,
    }
    assert kept["method"] == "y21" and len(kept) == 4
    assert json.loads(json.dumps(kept)) == kept


def test_figures_keep_the_order_in_which_they_are_stored():
    """Stored rows have no names: their readers find a figure by its place, so its place is a promise."""
    (own,) = published_figures.extract_band_figures({**RESULT, "bands": [band("80m")]}).values()
    assert tuple(own) == (
        "coverage",
        "rejection_worst_db",
        "rejection_centre_db",
        "rejection_best_db",
        "resistance_smallest_ohm",
        "impedance_smallest_ohm",
    )


def test_what_was_kept_in_another_form_is_made_again():
    kept = published_figures.extract_published_figures(RESULT)
    assert published_figures.is_current_form(kept)
    assert not published_figures.is_current_form({**kept, "form": published_figures.PUBLISHED_FORM - 1})
    assert not published_figures.is_current_form(None)
