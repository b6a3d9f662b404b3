"""Words for service states, inspections and fault searches on pages."""

from __future__ import annotations

from measurements.pages.layout.wording import Badge
from measurements.selectors.upkeep.rows import ChangeRow, RepeatabilityRow

STATE_BADGES: dict[str, Badge] = {
    "unserviceable": Badge(
        "Unserviceable",
        "unserviceable",
        "shape-short",
        "is-short",
        "A fault is known: a test it fails, or something an inspection found. Or it is out of service.",
    ),
    "untested": Badge(
        "Untested",
        "untested",
        "shape-few",
        "is-few",
        "Its work on some band, or its way through, was never tested.",
    ),
    "overdue": Badge(
        "Overdue",
        "overdue",
        "shape-due",
        "is-mixed",
        "A test or an item is too old, an item was never looked at, or something happened since.",
    ),
    "watch": Badge(
        "Watch",
        "watch",
        "shape-mixed",
        "is-mixed",
        "No fault is known, and something asks for another look.",
    ),
    "serviceable": Badge(
        "Serviceable",
        "serviceable",
        "shape-meets",
        "is-meets",
        "Tested on its bands and all through, looked at item by item: good, and not too old.",
    ),
}
# a device of which something changed, until it is judged anew
WAITING_BADGE = Badge(
    "Not judged yet",
    "not judged yet",
    "shape-few",
    "is-few",
    "Something of it changed, or a day passed. It is judged anew within a minute.",
)


def get_state_badge(state: str) -> Badge:
    """Return the badge of a service state, or of a device that waits for being judged."""
    return STATE_BADGES.get(state, WAITING_BADGE)


INSPECTION_STATES: dict[str, Badge] = {
    "ok": Badge("Good", "good", "shape-meets", "is-meets", "Nothing to be said against it."),
    "watch": Badge("Watch", "watch", "shape-mixed", "is-mixed", "To be looked at again."),
    "fault": Badge("Fault", "fault", "shape-short", "is-short", "Mend it before it goes back into service."),
    "does_not_apply": Badge(
        "Does not apply", "does not apply", "shape-few", "is-few", "This device has no such part."
    ),
    "not_looked": Badge("Not looked at", "not looked at", "shape-few", "is-few", "Nothing is known."),
}
REPEATABILITY_SOURCES = {"own": "your own repeated tests", "group": "the group's repeated tests"}


def describe_repeatability(row: RepeatabilityRow) -> str:
    """Describe how well tests repeat, and the origin of that figure, in a sentence."""
    if row.whose == "none":
        return (
            "How well a test repeats is not known yet. That takes further tests of a device within two "
            "days of "
            f"its first: {row.needed_dof} in all, {row.dof} so far. Until then only the allowed drift counts."
        )
    middle = sorted(row.real_from_db.values())[len(row.real_from_db) // 2]
    return (
        f"Repeating a test explains a change of up to {middle:.1f} dB on the middle band (95 %, from "
        f"{REPEATABILITY_SOURCES[row.whose]}"
        + (f", {row.dof} degrees of freedom)." if row.whose == "own" else ", rounded up).")
    )


def describe_change(row: ChangeRow) -> str:
    """Describe the change of a band since commissioning."""
    if row.real is False:
        return "no change that a repeat would not show"
    if row.beyond_allowed:
        beyond = f"beyond the {round(row.allowed_db, 1):g} dB allowed"
        return beyond if row.real else f"{beyond}, if it is real"
    return "a real change, within what is allowed" if row.real else "within what is allowed"
