"""How likely something is, in words that nobody takes for certainty."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from measurements.pages.layout import figures
from measurements.rf.diagnosis.ratio_causes import WHERE_WORDS
from measurements.rf.flags import format_megahertz

# From this share on, in words; what is below the last is unlikely.
_WORDS = ((0.9, "very likely"), (0.7, "likely"), (0.5, "more likely than not"), (0.1, "possible"))


@dataclass(frozen=True)
class Doubt:
    """What a curve says against its recipe: a sentence, and what fits better with how likely it is."""

    sentence: str
    likely: tuple[tuple[str, str], ...]


def format_likelihood(share: float) -> str:
    """Put a share of a posterior in words: none is ever certain, because no model knows everything."""
    return next((words for least, words in _WORDS if share >= least), "unlikely")


def list_likely(rows: Sequence[Mapping[str, Any]]) -> tuple[tuple[str, str], ...]:
    """List hypotheses and how likely each is, in words."""
    return tuple((row["what"], format_likelihood(row["share"])) for row in rows)


def present_doubt(kept: Mapping[str, Any]) -> Doubt:
    """Say what a curve has against its recipe. kept: as `services.evidence.recipe_doubts` stores it."""
    ratio = figures.format_number(kept["low_ratio"], 2)
    sentence = (
        f"The curve contradicts the recipe: at its lowest frequencies it shows {ratio} of the "
        f"impedance that this "
        "recipe gives."
    )
    return Doubt(sentence, list_likely(kept["likelihoods"]))


@dataclass(frozen=True)
class RatioFinding:
    """Why a ratio device falls short: where it differs, what is named, and how likely the rest is."""

    where: str
    causes: tuple[str, ...]
    likely: tuple[tuple[str, str], ...]
    span: str
    with_loss: bool


def present_ratio_diagnosis(found: Mapping[str, Any] | None) -> RatioFinding | None:
    """Put the diagnosis of a ratio device in words; None where there is none."""
    if found is None:
        return None
    return RatioFinding(
        WHERE_WORDS[found["where"]],
        tuple(cause["message"] for cause in found["causes"]),
        list_likely(found["likelihoods"]),
        f"{format_megahertz(found['from_hz'])} to {format_megahertz(found['to_hz'])}",
        found["loss_test"] is not None,
    )
