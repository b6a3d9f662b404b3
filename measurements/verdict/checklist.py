"""What is looked at when a device is inspected, and the four answers to each item (common practice)."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

State = Literal["ok", "watch", "fault", "not_looked"]
STATES: tuple[State, ...] = ("ok", "watch", "fault", "not_looked")


@dataclass(frozen=True)
class Item:
    """One item. look: what to look for, in a sentence."""

    code: str
    title: str
    look: str


ITEMS: tuple[Item, ...] = (
    Item("terminals", "Terminals", "Tight, not turned in their holes, no cracked insulation, no burn marks."),
    Item(
        "corrosion", "Corrosion", "No green or white bloom on connectors, lugs and shield; contacts bright."
    ),
    Item("moisture", "Moisture", "Dry inside; no drops, no water line, the drain hole open and facing down."),
    Item("enclosure", "Enclosure", "No cracks, lid and seals whole, plastic not brittle from the sun."),
    Item("strain_relief", "Strain relief", "The load hangs on the relief, never on the winding or a joint."),
    Item(
        "winding",
        "Winding and solder joints",
        "No loose turns, no chafed insulation, no dull or cracked joint.",
    ),
    Item("locking", "Locking hardware", "Lock washers, nuts, shackles and wire locks in place and tight."),
    Item("dc", "DC continuity and resistance", "Conducts where it should, and not where it should not."),
)
CODES = tuple(item.code for item in ITEMS)
BY_CODE = {item.code: item for item in ITEMS}


def worst(states: list[str]) -> State | None:
    """The gravest of the answers; None where nothing was looked at."""
    for state in ("fault", "watch", "ok"):
        if state in states:
            return state
    return None
