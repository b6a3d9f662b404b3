"""Which designs a look-up is about: fixed filters over the columns of a recipe, never free patterns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from measurements.errors import BenchnightError
from measurements.rf.ferrites import core_names
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.verdict.decision_rule import VERDICTS
from measurements.verdict.judged_kinds import INSERTION_LOSS

DESIGN_ORDERS = ("verdict", "rejection", "loss", "swr", "devices", "title")

# an order by a figure asks for the kind of test that the figure is of
ORDER_KINDS = {"rejection": "common_mode", "loss": "insertion_loss", "swr": "load_match"}


@dataclass(frozen=True)
class DesignFilters:
    """None or an empty text leaves a filter open.

    core: a size name (`FT240`, `ft 240-31`), a part number, or a part of either. judged_first: only designs
    that are judged by this kind of test first.
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
        return chosen


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
