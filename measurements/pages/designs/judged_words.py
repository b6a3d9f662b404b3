"""Words and figures for what a design is judged by: rejection, loss or match.

One table, so that each page shows the metric that matters with the same words, unit and decimals.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest

from measurements.pages.layout import figures
from measurements.verdict.judged_kinds import (
    COMMON_MODE,
    EVIDENCE_KINDS,
    INSERTION_LOSS,
    LOAD_MATCH,
    get_first_kind,
    list_judged_kinds,
)


@dataclass(frozen=True)
class KindWords:
    """How one kind of evidence is spoken of.

    metric: its name in an evidence object. noun: in a sentence; column: of a table, with the unit. unit: with
    a space before it, empty for SWR. low, high: ends of the small picture, in the unit. keeps: what a build
    does that passes; held_against, at: in a sentence and a heading; each with the limit filled in. bound:
    heading of the tolerance bound, whose name is `bound_of`. order: of a list by this metric. steps: how
    coarsely figures are shown under ten people.
    """

    kind: str
    metric: str
    noun: str
    column: str
    unit: str
    digits: int
    low: float
    high: float
    keeps: str
    held_against: str
    at: str
    bound: str
    bound_of: str
    order: str
    steps: str

    @property
    def is_rejection(self) -> bool:
        return self.kind == COMMON_MODE

    def format_figure(self, value: float | None) -> str:
        """Format a figure without its unit; of two decimals a zero at the end goes, as nobody knows it."""
        text = figures.format_number(value, self.digits)
        return text.removesuffix("0") if self.digits == 2 else text

    def format_limit(self, limit: float) -> str:
        """Format a limit with its unit, such as `20 dB` or `SWR 1.5`."""
        return f"SWR {limit:g}" if not self.unit else f"{limit:g}{self.unit}"


KIND_WORDS: dict[str, KindWords] = {
    COMMON_MODE: KindWords(
        kind=COMMON_MODE,
        metric="rejection_db",
        noun="rejection",
        column="Rejection, dB",
        unit=" dB",
        digits=1,
        low=0.0,
        high=45.0,
        keeps="meet {limit}",
        held_against="{limit} of rejection",
        at="at {limit}",
        bound="9 in 10 hold, dB",
        bound_of="tolerance_low",
        order="rejection",
        steps="whole decibels",
    ),
    INSERTION_LOSS: KindWords(
        kind=INSERTION_LOSS,
        metric="loss_db",
        noun="loss",
        column="Loss, dB",
        unit=" dB",
        digits=2,
        low=0.0,
        high=2.0,
        keeps="stay within {limit} of loss",
        held_against="a loss of at most {limit}",
        at="at most {limit} of loss",
        bound="9 in 10 lose at most, dB",
        bound_of="tolerance_high",
        order="loss",
        steps="tenths of a decibel",
    ),
    LOAD_MATCH: KindWords(
        kind=LOAD_MATCH,
        metric="swr",
        noun="SWR",
        column="SWR",
        unit="",
        digits=2,
        low=1.0,
        high=3.0,
        keeps="keep to {limit}",
        held_against="an {limit} at most",
        at="at {limit} or less",
        bound="9 in 10 stay below",
        bound_of="tolerance_high",
        order="swr",
        steps="steps of 0.05",
    ),
}

# what the switch calls each
SWITCH_WORDS = {COMMON_MODE: "Rejection", INSERTION_LOSS: "Loss", LOAD_MATCH: "Match (SWR)"}


def get_words(evidence: Mapping[str, Any]) -> KindWords:
    """Get the words for an evidence object."""
    return KIND_WORDS[evidence.get("kind", COMMON_MODE)]


def get_limit(evidence: Mapping[str, Any]) -> float:
    """Get what an evidence object was held against, in the unit of its metric."""
    limit = (
        evidence["benchmark_db"] if evidence.get("kind", COMMON_MODE) == COMMON_MODE else evidence["limit"]
    )
    return float(limit)


def choose_kind(asked: str | None, purpose: str | None, principle: str | None = None) -> str | None:
    """Choose what a list is about: the kind asked for, else that of its purpose; None: several."""
    if asked:
        return asked
    return get_first_kind(purpose, principle or "current") if purpose else None


def describe_limits(kind: str | None, limits: Mapping[str, float], mixed: bool) -> str:
    """Say what a list of this kind is held against. limits: by kind. mixed: several kinds are shown."""
    if kind is None and mixed:
        said = [KIND_WORDS[each].held_against.format(limit=_format(each, limits)) for each in EVIDENCE_KINDS]
        return f"{', '.join(said[:-1])} or {said[-1]}, by what each design is for"
    words = KIND_WORDS[kind or COMMON_MODE]
    return words.held_against.format(limit=_format(words.kind, limits))


def describe_heading(kind: str | None, limits: Mapping[str, float], mixed: bool) -> str:
    """Say the same for a heading, such as `at 20 dB`."""
    if kind is None and mixed:
        return "by what each design is for"
    words = KIND_WORDS[kind or COMMON_MODE]
    return words.at.format(limit=_format(words.kind, limits))


def _format(kind: str, limits: Mapping[str, float]) -> str:
    return KIND_WORDS[kind].format_limit(limits[kind])


@dataclass(frozen=True)
class KindChoice:
    """A link of the switch. matters: whether designs of this purpose are judged by it at all."""

    name: str
    address: str
    chosen: bool
    matters: bool


def list_kind_choices(
    request: HttpRequest, shown: str | None, purpose: str, principle: str, anchor: str = ""
) -> list[KindChoice]:
    """List the links that show another metric, those that matter for the purpose first."""
    judged = list_judged_kinds(purpose, principle)
    others = [kind for kind in EVIDENCE_KINDS if kind not in judged]
    choices = []
    for kind in (*judged, *others):
        words = request.GET.copy()
        words.setlist("kind", [kind])
        for name in ("limit", "cursor", "order"):
            words.pop(name, None)
        choices.append(
            KindChoice(SWITCH_WORDS[kind], f"?{words.urlencode()}{anchor}", kind == shown, kind in judged)
        )
    return choices
