"""Which figures of a test leave with the evidence, and how finely.

What is not made here is not published: a test's result goes in, and out come the columns of evidence.
Decibels in steps of 0.01, ohms and the rest with four significant digits: finer than any jig, coarse
enough that a figure is not the fingerprint of a file.
"""

from __future__ import annotations

from typing import Any

from measurements.rf.bands import JUDGED_COVERAGE

_DECIBEL_FIGURES = {
    "rejection_worst_db": ("rejection_db", "worst"),
    "rejection_centre_db": ("rejection_db", "centre"),
    "rejection_best_db": ("rejection_db", "best"),
}

_OHM_FIGURES = {
    "resistance_smallest_ohm": ("resistance_ohm", "worst"),
    "impedance_smallest_ohm": ("impedance_ohm", "worst"),
}

SUMMARY_FIGURES = ("self_resonance_hz", "inductance_h", "stray_capacitance_f")

# raised with whatever `of_result` leaves or rounds: what was kept in another form is made again
PUBLISHED_FORM = 1


def extract_published_figures(result: dict[str, Any]) -> dict[str, Any]:
    """Return all that a common_mode result publishes, small enough to be kept beside it as JSON.

    bands: band -> [coverage, *figures], see `of_bands`.
    """
    return {
        "form": PUBLISHED_FORM,
        "method": result["method"],
        "summary": extract_summary_figures(result),
        "bands": {band: list(own.values()) for band, own in extract_band_figures(result).items()},
    }


def is_current_form(published: dict[str, Any] | None) -> bool:
    """Say whether `of_result` would make this of the result beside it."""
    return published is not None and published["form"] == PUBLISHED_FORM


def extract_band_figures(result: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Return the published figures of a common_mode result by band.

    Bands that count: covered in full (or between two points), with a rejection, and not left out by a
    flag of their own.
    """
    left_out = {flag["band"] for flag in result["flags"] if flag["severity"] == "exclude"}
    return {
        band["band"]: _extract_figures_of_band(band)
        for band in result["bands"]
        if band["coverage"] in JUDGED_COVERAGE
        and band["band"] not in left_out
        and all(band[metric][figure] is not None for metric, figure in _DECIBEL_FIGURES.values())
    }


def extract_summary_figures(result: dict[str, Any]) -> dict[str, float | None]:
    """Return the published figures of the whole sweep."""
    return {name: round_to_four_digits(result["summary"].get(name)) for name in SUMMARY_FIGURES}


def _extract_figures_of_band(band: dict[str, Any]) -> dict[str, Any]:
    return {
        "coverage": band["coverage"],
        **{name: round(band[metric][figure], 2) for name, (metric, figure) in _DECIBEL_FIGURES.items()},
        **{
            name: round_to_four_digits(band[metric][figure])
            for name, (metric, figure) in _OHM_FIGURES.items()
        },
    }


def round_to_four_digits(value: float | None) -> float | None:
    """Return four significant digits; None stays None."""
    return None if value is None else float(f"{value:.4g}")
