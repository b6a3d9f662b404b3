"""Which designs a look-up is about: fixed filters over the columns of a recipe, never free patterns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from measurements.errors import BenchnightError
from measurements.rf.ferrites import core_names
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.selectors.reference import reference
from measurements.verdict.decision_rule import VERDICTS
from measurements.verdict.judged_kinds import INSERTION_LOSS

SIZE_TOLERANCE = 0.01  # contract: a core within 1 % of a listed one is that listed one
DESIGN_ORDERS = ("verdict", "rejection", "loss", "swr", "devices", "title")

# an order by a figure asks for the kind of test that the figure is of
ORDER_KINDS = {"rejection": "common_mode", "loss": "insertion_loss", "swr": "load_match"}


@dataclass(frozen=True)
class DesignWords:
    """A design as somebody typed it, part by part; None where nobody said.

    part: maker's number. outer_mm: of a core without one. rest: words without a meaning of their own, each of
    which the title has to hold.
    """

    ratio: str | None = None
    purpose: str | None = None
    principle: str | None = None
    mix: str | None = None
    part: str | None = None
    outer_mm: float | None = None
    turns: int | None = None
    style: str | None = None
    conductor: str | None = None
    rest: tuple[str, ...] = ()

    @property
    def is_empty(self) -> bool:
        """Say whether nothing was typed that a design could fit."""
        return self == DesignWords()

    def build_condition(self) -> Q:
        """Build the condition on designs: every part, and every word of the rest, has to fit."""
        columns = {
            "ratio": self.ratio,
            "principle": self.principle,
            "mix": self.mix,
            "core": self.part,
            "turns": self.turns,
            "style": self.style,
            "recipe__winding__conductor": self.conductor,
        }
        condition = Q(**{column: value for column, value in columns.items() if value is not None})
        if self.outer_mm is not None:
            near = (self.outer_mm * (1 - SIZE_TOLERANCE), self.outer_mm * (1 + SIZE_TOLERANCE))
            listed = [
                row.part
                for row in reference.list_cores()
                if row.outer_mm is not None and near[0] <= row.outer_mm <= near[1]
            ]
            condition &= Q(core__in=listed) | Q(recipe__cores__0__outer_mm__range=near)
        if self.purpose is not None:
            condition &= _build_purpose_condition(self.purpose)
        for word in self.rest:
            condition &= Q(title__icontains=word)
        return condition


@dataclass(frozen=True)
class DesignFilters:
    """None or an empty text leaves a filter open.

    core: a size name (`FT240`, `ft 240-31`), a part number, or a part of either. judged_first: only designs
    that are judged by this kind of test first. words: as it was typed.
    """

    ratio: str | None = None
    purpose: str | None = None
    principle: str | None = None
    mix: str | None = None
    core: str | None = None
    turns_min: int | None = None
    turns_max: int | None = None
    style: str | None = None
    verdict: str | None = None
    judged_first: str | None = None
    words: DesignWords | None = None

    def conditions(self) -> Q:
        """Write the same as conditions on the columns of a design (all but the verdict).

        Raises BenchnightError `ratio.unreadable`, `verdict.unknown`.
        """
        if self.verdict and self.verdict not in VERDICTS:
            raise BenchnightError(
                "verdict.unknown", f"Choose one of: {', '.join(VERDICTS)}.", field="verdict"
            )
        wanted: dict[str, Any] = {
            "ratio": format_ratio(parse_ratio(self.ratio)) if self.ratio else None,
            "principle": self.principle,
            "mix": self.mix,
            "turns__gte": self.turns_min,
            "turns__lte": self.turns_max,
            "style": self.style,
        }
        chosen = Q(**{column: value for column, value in wanted.items() if value not in (None, "")})
        if self.purpose:
            chosen &= _build_purpose_condition(self.purpose)
        if self.judged_first:
            transforms = Q(purpose="unun") | Q(principle="voltage")
            chosen &= transforms if self.judged_first == INSERTION_LOSS else ~transforms
        if self.core:  # titles hold the names, the column the maker's number
            named = core_names.squeeze_size_name(self.core)
            chosen &= Q(core__icontains=self.core.strip()) | Q(title__icontains=named)
        return chosen if self.words is None else chosen & self.words.build_condition()


_UNITY = "1:1"


def _build_purpose_condition(purpose: str) -> Q:
    """Write a purpose as a condition. A choke and a 1:1 current balun are one thing under two names.

    Whoever looks for one finds the other too; further filters (principle, ratio) narrow it as any other.
    """
    wanted = Q(purpose=purpose)
    if purpose == "choke":
        wanted |= Q(purpose="balun", principle="current", ratio=_UNITY)
    if purpose == "balun":
        wanted |= Q(purpose="choke", ratio=_UNITY)
    return wanted


def check_order(order: str) -> str:
    """Return the order itself; BenchnightError `order.unknown` otherwise."""
    if order not in DESIGN_ORDERS:
        raise BenchnightError("order.unknown", f"Choose one of: {', '.join(DESIGN_ORDERS)}.", field="order")
    return order
