"""Which figures of a test leave with the evidence, and how finely.

What is not made here is not published: a test's result goes in, and out come the columns of evidence.
Decibels in steps of 0.01, ohms and the rest with four significant digits: finer than any jig, coarse
enough that a figure is not the fingerprint of a file.
"""

from __future__ import annotations

from typing import Any

from measurements.rf.bands import JUDGED

_DECIBELS = {
    "rejection_worst_db": ("rejection_db", "worst"),
    "rejection_centre_db": ("rejection_db", "centre"),
    "rejection_best_db": ("rejection_db", "best"),
}
_OHMS = {
    "resistance_smallest_ohm": ("resistance_ohm", "worst"),
    "impedance_smallest_ohm": ("impedance_ohm", "worst"),
}
SUMMARY = ("self_resonance_hz", "inductance_h", "stray_capacitance_f")


# raised with whatever `of_result` leaves or rounds: what was kept in another form is made again
FORM = 1


def of_result(result: dict[str, Any]) -> dict[str, Any]:
    """All that a common_mode result publishes, small enough to be kept beside it as JSON.

    bands: band -> [coverage, *figures], see `of_bands`.
    """
    return {
        "form": FORM,
        "method": result["method"],
        "summary": of_summary(result),
        "bands": {band: list(own.values()) for band, own in of_bands(result).items()},
    }


def is_kept(published: dict[str, Any] | None) -> bool:
    """Whether this is what `of_result` would make of the result that it was kept with."""
    return published is not None and published["form"] == FORM


def of_bands(result: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """The published figures of a common_mode result by band.

    Bands that count: covered in full (or between two points), with a rejection, and not left out by a
    flag of their own.
    """
    left_out = {flag["band"] for flag in result["flags"] if flag["severity"] == "exclude"}
    return {
        band["band"]: _of_band(band)
        for band in result["bands"]
        if band["coverage"] in JUDGED
        and band["band"] not in left_out
        and all(band[metric][figure] is not None for metric, figure in _DECIBELS.values())
    }


def of_summary(result: dict[str, Any]) -> dict[str, float | None]:
    """The published figures of the whole sweep."""
    return {name: significant(result["summary"].get(name)) for name in SUMMARY}


def _of_band(band: dict[str, Any]) -> dict[str, Any]:
    return {
        "coverage": band["coverage"],
        **{name: round(band[metric][figure], 2) for name, (metric, figure) in _DECIBELS.items()},
        **{name: significant(band[metric][figure]) for name, (metric, figure) in _OHMS.items()},
    }


def significant(value: float | None) -> float | None:
    """Four significant digits; None stays None."""
    return None if value is None else float(f"{value:.4g}")
