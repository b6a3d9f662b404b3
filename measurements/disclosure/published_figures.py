"""Which figures of a test leave with the evidence, and how finely.

What is not made here is not published: a test's result goes in, and out come the columns of evidence.
Decibels in steps of 0.01, ohms and the rest with four significant digits: finer than any jig, coarse
enough that a figure is not the fingerprint of a file.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import Any

import numpy as np

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


# A device's published figures on all bands of its cell as one block of bytes, and back.
#
# B bands in the order of the cell. figures: B x 5 little-endian float32 in the order of `FIGURES`, NaN where
# there is none; a float32 holds every figure as finely as it is published. coverage: one letter per band.

PACKED_FIGURES = (
    "rejection_worst_db",
    "rejection_centre_db",
    "rejection_best_db",
    "resistance_smallest_ohm",
    "impedance_smallest_ohm",
)

_PACKED_DTYPE = np.dtype("<f4")

_DECIBEL_COUNT = 3

_ABSENT_LETTER = "-"

_COVERAGE_LETTERS = {"full": "f", "interpolated": "i", None: _ABSENT_LETTER}

_COVERAGES = {letter: coverage for coverage, letter in _COVERAGE_LETTERS.items()}

_EMPTY_ROW = (None,) * (1 + len(PACKED_FIGURES))


def pack_figures(rows: Mapping[str, Sequence[Any]], bands: Sequence[str]) -> tuple[bytes, str]:
    """Return (figures, coverage) of the bands of `published_figures.of_result`, in the order of `bands`."""
    letters, figures = [], []
    for band in bands:
        coverage, *own = rows.get(band, _EMPTY_ROW)
        letters.append(_COVERAGE_LETTERS[coverage])
        figures += own
    return np.array(figures, dtype=_PACKED_DTYPE).tobytes(), "".join(letters)


def unpack_figures(bands: Sequence[str], figures: bytes, coverage: str) -> Iterator[tuple[Any, ...]]:
    """Yield (band, coverage, *figures in the order of `FIGURES`) of every band that has any; None for none.

    Raises ValueError where the block does not belong to these bands.
    """
    block = np.frombuffer(figures, _PACKED_DTYPE).reshape(len(bands), len(PACKED_FIGURES)).tolist()
    for band, letter, row in zip(bands, coverage, block, strict=True):
        if letter == _ABSENT_LETTER:
            continue
        # rounded as published: a stored float32 is a hair off the figure it stands for
        decibels = [round(value, 2) for value in row[:_DECIBEL_COUNT]]
        ohms = [None if value != value else round_to_four_digits(value) for value in row[_DECIBEL_COUNT:]]
        yield band, _COVERAGES[letter], *decibels, *ohms
