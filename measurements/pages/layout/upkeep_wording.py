"""How service states, inspections and fault searches are said on pages."""

from __future__ import annotations

from measurements.pages.layout.wording import Badge
from measurements.selectors.upkeep.rows import ChangeRow, RepeatabilityRow

STATE_BADGES: dict[str, Badge] = {
    "unserviceable": Badge(
        "Unserviceable",
        "unserviceable",
        "shape-short",
        "is-short",
        "A fault is known: a test it fails, or something an inspection found.",
    ),
    "untested": Badge(
        "Untested",
        "untested",
        "shape-few",
        "is-few",
        "No test that counts says whether it does its work.",
    ),
    "overdue": Badge(
        "Overdue",
        "overdue",
        "shape-due",
        "is-mixed",
        "It was good, and its test or inspection is too old, or somebody marked it as due.",
    ),
    "watch": Badge(
        "Watch",
        "watch",
        "shape-mixed",
        "is-mixed",
        "It is good, and something asks for another look.",
    ),
    "serviceable": Badge(
        "Serviceable",
        "serviceable",
        "shape-meets",
        "is-meets",
        "Its newest tests and inspection are good and not too old.",
    ),
}
INSPECTION_STATES: dict[str, Badge] = {
    "ok": Badge("Good", "good", "shape-meets", "is-meets", "Nothing to be said against it."),
    "watch": Badge("Watch", "watch", "shape-mixed", "is-mixed", "To be looked at again."),
    "fault": Badge("Fault", "fault", "shape-short", "is-short", "Mend it before it goes back into service."),
    "not_looked": Badge("Not looked at", "not looked at", "shape-few", "is-few", "Nothing is known."),
}
SYMPTOMS: dict[str, tuple[str, str]] = {
    "high_swr": ("The antenna shows a high SWR", "Is it the device, the antenna, or the feed line?"),
    "rf_in_shack": ("RF in the shack", "The microphone bites, sound or computers are disturbed on transmit."),
    "noise": ("More noise on receive", "Noise that was not there before, perhaps from the house."),
    "weather": ("It changes with the weather", "Rain, wind, sun or frost make it better or worse."),
}
SEARCH_STEPS: dict[str, str] = {
    "bypass": "Bypass test at the antenna",
    "load_test": "Load-match test on the bench",
    "common_mode": "Common-mode test on the bench",
    "inspection": "Inspection",
}
STEP_OUTCOMES: dict[str, Badge] = {
    "device_makes_it_worse": Badge("Worse through the device", "worse", "shape-mixed", "is-mixed", ""),
    "device_changes_nothing": Badge("The device changes nothing", "no change", "shape-meets", "is-meets", ""),
    "better_through_device": Badge("Better through the device", "better", "shape-mixed", "is-mixed", ""),
    "inconclusive": Badge("Cannot tell", "cannot tell", "shape-few", "is-few", ""),
    "good": Badge("Good", "good", "shape-meets", "is-meets", ""),
    "bad": Badge("Bad", "bad", "shape-short", "is-short", ""),
    "unclear": Badge("Says nothing", "says nothing", "shape-few", "is-few", ""),
    "watch": Badge("To be watched", "watch", "shape-mixed", "is-mixed", ""),
    "fault": Badge("A fault was seen", "fault", "shape-short", "is-short", ""),
    "skipped": Badge("Passed over", "passed over", "shape-few", "is-few", ""),
}


def get_bypass_badge(finding: str) -> Badge:
    """Get the badge of a bypass finding; a name of an older engine decides nothing now."""
    return STEP_OUTCOMES.get(finding, STEP_OUTCOMES["inconclusive"])


SEARCH_FINDINGS: dict[str, tuple[str, str]] = {
    "seen_fault": (
        "The inspection found a fault",
        "Mend what was found, then make the tests again before the device goes back into service.",
    ),
    "antenna_or_line": (
        "Look at the antenna or its feed line first",
        "It is bad with a plain jumper in place of the device too. The device is not cleared by this: "
        "once the "
        "antenna is good, make the bypass test again.",
    ),
    "transforms_wrong": (
        "The device transforms wrongly",
        "With a resistor for an antenna it does not show the right load, and nothing was to be seen. Look "
        "inside: count the turns, measure each winding, look for a cracked core, then wind it anew or "
        "replace it.",
    ),
    "chokes_too_little": (
        "The device chokes too little",
        "The feed line carries current on its outside and becomes part of the antenna. More turns, a second "
        "core or the right mix help; a prediction shows what to expect.",
    ),
    "only_in_place": (
        "Good on the bench, bad in its place",
        "What fails only there is a contact that opens under load or wind, water that was gone by the "
        "time it "
        "came down, or heat under power. Wiggle every joint while watching the SWR, test it wet and "
        "warm, and "
        "look at its mounting and the jumpers on both sides.",
    ),
    "elsewhere": (
        "The device does its work; the current comes from elsewhere",
        "It chokes as it should where it sits. Try a second choke where the feed line enters the house, "
        "look at "
        "the antenna's own balance and at the ground of the station.",
    ),
    "no_fault_found": (
        "No fault found",
        "All that was tested was good. If the trouble comes back, begin again while it lasts.",
    ),
    "nothing_known": (
        "Nothing is known yet",
        "Every step was passed over or said nothing. Begin again when there is time for the first test.",
    ),
}
REPEATABILITY_SOURCES = {"own": "your own repeated tests", "group": "the group's repeated tests"}


def describe_repeatability(row: RepeatabilityRow) -> str:
    """How well tests repeat, and where that comes from, in a sentence."""
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
    """What a band's change since commissioning amounts to."""
    if row.real is False:
        return "no change that a repeat would not show"
    if row.beyond_allowed:
        beyond = f"beyond the {round(row.allowed_db, 1):g} dB allowed"
        return beyond if row.real else f"{beyond}, if it is real"
    return "a real change, within what is allowed" if row.real else "within what is allowed"
