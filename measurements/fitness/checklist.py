"""What is looked at when a device is inspected, and the five answers to each item (common practice)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

ItemState = Literal["ok", "watch", "fault", "not_looked", "does_not_apply"]

ITEM_STATES: tuple[ItemState, ...] = ("ok", "watch", "fault", "not_looked", "does_not_apply")


@dataclass(frozen=True)
class ChecklistItem:
    """One item. look: what to look for, in a sentence. always: every device has it, so it always applies.

    electrical: a mended fault here changes what a device does, so it is tested again after the mending.
    """

    code: str
    title: str
    look: str
    always: bool = False
    electrical: bool = False


CHECKLIST_ITEMS: tuple[ChecklistItem, ...] = (
    ChecklistItem(
        "terminals",
        "Terminals",
        "Tight, not turned in their holes, no cracked insulation, no burn marks.",
        always=True,
    ),
    ChecklistItem(
        "corrosion", "Corrosion", "No green or white bloom on connectors, lugs and shield; contacts bright."
    ),
    ChecklistItem(
        "moisture", "Moisture", "Dry inside; no drops, no water line, the drain hole open and facing down."
    ),
    ChecklistItem(
        "enclosure", "Enclosure", "No cracks, lid and seals whole, plastic not brittle from the sun."
    ),
    ChecklistItem(
        "strain_relief", "Strain relief", "The load hangs on the relief, never on the winding or a joint."
    ),
    ChecklistItem(
        "winding",
        "Winding and solder joints",
        "No loose turns, no chafed insulation, no dull or cracked joint.",
        always=True,
        electrical=True,
    ),
    ChecklistItem(
        "locking", "Locking hardware", "Lock washers, nuts, shackles and wire locks in place and tight."
    ),
    ChecklistItem(
        "core", "Core", "Whole: no crack, no chip, no rattle, no gap between halves.", electrical=True
    ),
    ChecklistItem(
        "tracking",
        "Tracking",
        "No black trees between terminals; plastic clean and glossy.",
        electrical=True,
    ),
    ChecklistItem("insects", "Insects", "No nest, no web, the way in closed; a nest holds water."),
    ChecklistItem("plug_water", "Water in plugs", "Braid and dielectric dry and bright under the wrap."),
)

# items of earlier check lists: a fault at one stands until it is answered otherwise
RETIRED_TITLES = {"dc": "DC continuity"}

ITEMS_BY_CODE = {item.code: item for item in CHECKLIST_ITEMS}


def find_worst_state(states: list[str]) -> ItemState | None:
    """Return the gravest of the answers; None where nothing was looked at."""
    for state in ("fault", "watch", "ok"):
        if state in states:
            return state
    return None
