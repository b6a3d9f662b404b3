"""Events after which a device is due, and the least that has to be looked at and tested before it is clear.

What each event asks for is common practice of whoever keeps a club's kit; no source.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from measurements.fitness.checklist import CHECKLIST_ITEMS

CheckName = Literal["through_path", "work"]  # work: the kind of test that says whether it does its work


@dataclass(frozen=True)
class DueEvent:
    """One kind of event. items: codes of the check list. checks: what has to be tested anew."""

    code: str
    title: str
    items: tuple[str, ...]
    checks: tuple[CheckName, ...]


_EVERY_ITEM = tuple(item.code for item in CHECKLIST_ITEMS)

DUE_EVENTS: tuple[DueEvent, ...] = (
    DueEvent(
        "storm",
        "Storm or flood",
        ("terminals", "moisture", "enclosure", "strain_relief", "locking", "plug_water"),
        ("through_path",),
    ),
    DueEvent(
        "lightning",
        "Lightning nearby",
        ("terminals", "winding", "core", "tracking", "plug_water"),
        ("through_path", "work"),
    ),
    DueEvent(
        "drop",
        "Dropped or knocked",
        ("terminals", "enclosure", "winding", "core"),
        ("through_path", "work"),
    ),
    DueEvent(
        "move",
        "Moved or mounted again",
        ("terminals", "strain_relief", "locking", "plug_water"),
        ("through_path",),
    ),
    # nobody said what happened, so nothing can be left out
    DueEvent("other", "Other", _EVERY_ITEM, ("through_path", "work")),
)

DUE_EVENTS_BY_CODE = {event.code: event for event in DUE_EVENTS}
