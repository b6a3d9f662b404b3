"""Which designs a look-up is about: fixed filters over the columns of a recipe, never free patterns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from django.db.models import Q

from measurements.errors import BenchnightError
from measurements.rf.ferrites import core_names
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.verdict.decision_rule import VERDICTS

DESIGN_ORDERS = ("verdict", "rejection", "devices", "title")


@dataclass(frozen=True)
class DesignFilters:
    """None or an empty text leaves a filter open.

    core: a size name (`FT240`, `ft 240-31`), a part number, or a part of either.
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
            "purpose": self.purpose,
            "principle": self.principle,
            "mix": self.mix,
            "turns__gte": self.turns_min,
            "turns__lte": self.turns_max,
            "style": self.style,
        }
        chosen = Q(**{column: value for column, value in wanted.items() if value not in (None, "")})
        if self.core:  # titles hold the names, the column the maker's number
            named = core_names.squeeze_size_name(self.core)
            chosen &= Q(core__icontains=self.core.strip()) | Q(title__icontains=named)
        return chosen


def check_order(order: str) -> str:
    """Return the order itself; BenchnightError `order.unknown` otherwise."""
    if order not in DESIGN_ORDERS:
        raise BenchnightError("order.unknown", f"Choose one of: {', '.join(DESIGN_ORDERS)}.", field="order")
    return order
