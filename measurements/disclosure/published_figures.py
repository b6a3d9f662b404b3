"""Which figures of a test leave with the evidence, and how finely.

What is not made here is not published: a test's result goes in, and out come the columns of evidence.
Decibels in steps of 0.01, ohms and the rest with four significant digits: finer than any jig, coarse
enough that a figure is not the fingerprint of a file.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from measurements.rf.bands import JUDGED_COVERAGE

# of each published figure: its metric and which of the metric's figures it is
_Named = Mapping[str, tuple[str, str]]

_OHM_FIGURES: _Named = {
    "resistance_smallest_ohm": ("resistance_ohm", "worst"),
    "impedance_smallest_ohm": ("impedance_ohm", "worst"),
}

SUMMARY_FIGURES = ("self_resonance_hz", "inductance_h", "stray_capacitance_f")


@dataclass(frozen=True)
class _KindRule:
    """What a kind publishes of a band.

    needed: figures without which a band does not count, the judged one first; in steps of 0.01.
    beside: further figures, with four significant digits. most_uncertainty: U (95 %) up to which the judged
    figure is a vote, in its unit (trade page, section 7); None: not asked.
    """

    needed: _Named
    beside: _Named
    most_uncertainty: float | None = None

    @property
    def metric(self) -> str:
        return next(iter(self.needed.values()))[0]


KIND_RULES: dict[str, _KindRule] = {
    "common_mode": _KindRule(
        {
            "rejection_worst_db": ("rejection_db", "worst"),
            "rejection_centre_db": ("rejection_db", "centre"),
            "rejection_best_db": ("rejection_db", "best"),
        },
        _OHM_FIGURES,
    ),
    "insertion_loss": _KindRule(
        {
            "loss_worst_db": ("loss_db", "worst"),
            "loss_centre_db": ("loss_db", "centre"),
            "loss_best_db": ("loss_db", "best"),
        },
        {"dissipative_worst_db": ("dissipative_db", "worst")},
        most_uncertainty=0.25,
    ),
    "load_match": _KindRule(
        {
            "swr_worst": ("swr", "worst"),
            "swr_centre": ("swr", "centre"),
            "swr_best": ("swr", "best"),
        },
        {},
        most_uncertainty=0.15,
    ),
}

# kinds whose figures belong to one ratio: a test that names another ratio than its design's has no vote
RATIO_KINDS = ("insertion_loss", "load_match")

# raised with whatever is left out or rounded otherwise: figures of an older form are made again
PUBLISHED_FORM = 1


def extract_published_figures(result: dict[str, Any]) -> dict[str, Any]:
    """Return all that a result publishes, small enough to be kept beside it as JSON.

    bands: band -> [coverage, *figures], see `extract_band_figures`; the judged figure comes second. ratio: of
    kinds whose figures belong to one. Raises KeyError for a kind that is no evidence.
    """
    published = {
        "form": PUBLISHED_FORM,
        "method": result["method"],
        "summary": extract_summary_figures(result),
        "bands": {band: list(own.values()) for band, own in extract_band_figures(result).items()},
    }
    return published | ({"ratio": result["ratio"]} if result["kind"] in RATIO_KINDS else {})


def is_current_form(published: dict[str, Any] | None) -> bool:
    """Say whether `extract_published_figures` would make this of the result beside it."""
    return published is not None and published["form"] == PUBLISHED_FORM


def extract_band_figures(result: dict[str, Any]) -> dict[str, dict[str, Any]]:
    """Return the published figures of a result by band; none of a kind that is no evidence.

    Bands that count: covered in full (or between two points), with all needed figures, not left out by a
    flag of their own, and for loss and match with a figure of the device itself whose U is small enough.
    """
    rule = KIND_RULES.get(result["kind"])
    if rule is None:
        return {}
    left_out = {flag["band"] for flag in result["flags"] if flag["severity"] == "exclude"}
    return {
        band["band"]: _extract_figures_of_band(band, rule)
        for band in result["bands"]
        if band["coverage"] in JUDGED_COVERAGE
        and band["band"] not in left_out
        and all(band[metric][figure] is not None for metric, figure in rule.needed.values())
        and _is_certain_enough(band, rule, result["method"])
    }


def _is_certain_enough(band: Mapping[str, Any], rule: _KindRule, method: str) -> bool:
    """Say whether the judged figure is the device's own and U of it is small enough for a vote.

    A band without a decision holds a figure that must not be held against a limit, such as the loss of a
    ratio device swept directly. The halved loss of a pair is of no device: it has no split.
    """
    if rule.most_uncertainty is None:
        return True
    if band.get("decision", "not_judged") == "not_judged" or _is_halved(band, method):
        return False
    uncertainty = (band.get("uncertainty") or {}).get(rule.metric)
    return uncertainty is not None and uncertainty <= rule.most_uncertainty


def _is_halved(band: Mapping[str, Any], method: str) -> bool:
    return method == "back_to_back" and band["dissipative_db"]["worst"] is None


def extract_summary_figures(result: dict[str, Any]) -> dict[str, float | None]:
    """Return the published figures of the whole sweep."""
    return {name: round_to_four_digits(result["summary"].get(name)) for name in SUMMARY_FIGURES}


def _extract_figures_of_band(band: dict[str, Any], rule: _KindRule) -> dict[str, Any]:
    return {
        "coverage": band["coverage"],
        **{name: round(band[metric][figure], 2) for name, (metric, figure) in rule.needed.items()},
        **{
            name: round_to_four_digits(band[metric][figure]) for name, (metric, figure) in rule.beside.items()
        },
    }


def round_to_four_digits(value: float | None) -> float | None:
    """Return four significant digits; None stays None."""
    return None if value is None else float(f"{value:.4g}")
