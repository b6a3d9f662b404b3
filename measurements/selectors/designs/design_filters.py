"""Which designs a look-up is about: fixed filters over the columns of a recipe, never free patterns."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

from measurements.errors import BenchnightError
from measurements.rf.impedance_ratio import format_ratio, parse_ratio
from measurements.verdict.decision_rule import VERDICTS

DESIGN_ORDERS = ("verdict", "rejection", "devices", "title")


@dataclass(frozen=True)
class DesignFilters:
    """None or an empty text leaves a filter open. core: a part number or a part of a core's name."""

    ratio: str | None = None
    purpose: str | None = None
    principle: str | None = None
    mix: str | None = None
    core: str | None = None
    turns_min: int | None = None
    turns_max: int | None = None
    style: str | None = None
    verdict: str | None = None

    def conditions(self) -> dict[str, Any]:
        """Return the same as conditions on the columns of a design (all but the verdict).

        Raises BenchnightError `ratio.unreadable`, `verdict.unknown`.
        """
        if self.verdict and self.verdict not in VERDICTS:
            raise BenchnightError(
                "verdict.unknown", f"Choose one of: {', '.join(VERDICTS)}.", field="verdict"
            )
        wanted = {
            "ratio": format_ratio(parse_ratio(self.ratio)) if self.ratio else None,
            "purpose": self.purpose,
            "principle": self.principle,
            "mix": self.mix,
            "core__icontains": self.core,
            "turns__gte": self.turns_min,
            "turns__lte": self.turns_max,
            "style": self.style,
        }
        return {column: value for column, value in wanted.items() if value not in (None, "")}


def check_order(order: str) -> str:
    """Return the order itself; BenchnightError `order.unknown` otherwise."""
    if order not in DESIGN_ORDERS:
        raise BenchnightError("order.unknown", f"Choose one of: {', '.join(DESIGN_ORDERS)}.", field="order")
    return order
