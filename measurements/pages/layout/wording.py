"""The words and shapes of verdicts, kinds and methods on pages.

A verdict is never told by colour alone: every one has a word and a shape of its own.
"""

from __future__ import annotations

from dataclasses import dataclass


@dataclass(frozen=True)
class Badge:
    """The words of a verdict. shape: the symbol of the sprite; look: the class of the stylesheet."""

    word: str
    short: str
    shape: str
    look: str
    meaning: str


VERDICTS: dict[str, Badge] = {
    "typically_meets": Badge(
        "Typically meets",
        "meets",
        "shape-meets",
        "is-meets",
        "A device that somebody else builds passes with a chance of 8 in 10 or more.",
    ),
    "mixed": Badge(
        "Mixed",
        "mixed",
        "shape-mixed",
        "is-mixed",
        "A new build may pass or not, or too few were tested to say which is likely.",
    ),
    "typically_falls_short": Badge(
        "Typically falls short",
        "falls short",
        "shape-short",
        "is-short",
        "A device that somebody else builds passes with a chance of 2 in 10 or less.",
    ),
    "not_enough_devices": Badge(
        "Not enough devices",
        "too few",
        "shape-few",
        "is-few",
        "Devices of fewer than three people were tested, or of fewer than may be shown.",
    ),
}

NO_VERDICT = Badge(
    "No verdict",
    "no verdict",
    "shape-few",
    "is-few",
    "Another benchmark than the group's is answered from ten people on. Hold the median against it.",
)


def get_verdict_badge(verdict: str | None) -> Badge:
    """Get the badge of a verdict; None: the evidence is there, and another benchmark has no answer."""
    return NO_VERDICT if verdict is None else VERDICTS[verdict]


DECISIONS: dict[str, Badge] = {
    "meets": Badge(
        "Meets",
        "meets",
        "shape-meets",
        "is-meets",
        "Within the limit at its worst point of the band, by its uncertainty or more.",
    ),
    "falls_short": Badge(
        "Falls short",
        "falls short",
        "shape-short",
        "is-short",
        "Beyond the limit somewhere in the band, by its uncertainty or more.",
    ),
    "too_close": Badge(
        "Too close to call",
        "too close",
        "shape-mixed",
        "is-mixed",
        "Nearer to the limit than its uncertainty: a better known sweep can decide.",
    ),
    "not_judged": Badge(
        "Not judged", "not judged", "shape-few", "is-few", "The sweep or the method allows no verdict."
    ),
}

KINDS: dict[str, str] = {
    "common_mode": "Common mode",
    "load_match": "Load match",
    "insertion_loss": "Insertion loss",
    "balance": "Balance",
    "in_situ": "At the antenna",
    "dc": "Ohmmeter",
}

METHODS: dict[str, str] = {
    "direct": "straight through",
    "renormalised": "full two-port, renormalised",
    "series_resistor": "with a series resistor",
    "one_port": "one port: open, shorted, loaded",
    "back_to_back": "two alike, back to back",
    "known_partner": "against a trusted partner",
    "pairs": "three or more in pairs",
}

PURPOSES = {"choke": "choke", "balun": "balun", "unun": "unun"}
PRINCIPLES = {"current": "current", "voltage": "voltage", "hybrid": "hybrid"}
STYLES = {
    "coax": "coax",
    "bifilar": "bifilar",
    "twisted_pair": "twisted pair",
    "trifilar": "trifilar",
    "parallel_wires": "parallel wires",
    "single": "single wire",
    "beads_on_coax": "beads on coax",
}
SHAPES = {
    "toroid": "toroid",
    "binocular": "binocular",
    "bead": "bead",
    "rod": "rod",
    "other": "other",
}
ORIGINS = {"homebrew": "home-built", "commercial": "bought"}
SEVERITIES = {
    "refuse": "Refused",
    "exclude": "Left out of evidence",
    "note": "Note",
}
CAUSES = {
    "jig": "The jig",
    "turn_count": "The turn count",
    "core_count": "The number of cores",
    "mix": "The mix",
    "cracked_core": "The core itself",
    "stray_capacitance": "Stray capacitance",
    "leak": "A leak across the winding",
}
FINDINGS = {
    "device_makes_it_worse": "The device makes it worse: with the jumper the SWR is far lower than through "
    "the device. Test the device on the bench next.",
    "device_changes_nothing": "The device changes nothing: the antenna is as it is. If the SWR in the shack "
    "is high, look at the line, the plugs, the arrester and the ground. The device is not cleared by this.",
    "better_through_device": "Better through the device. Without a choke the line, the analyser and you are "
    "part of the antenna; or the device swallows power. Measure its insertion loss on the bench.",
    "inconclusive": "Cannot tell: these two sweeps do not decide between device and antenna.",
}
NO_ANTENNA_BANDS = "Figures only: say for which bands this antenna is, and they are compared"
DC_VERDICTS: dict[bool | None, str] = {
    True: "It conducts where it should, and nowhere else that was read",
    False: "It does not conduct as its type should",
    None: "Not settled by these readings",
}
DC_EXPECTED: dict[str | None, str] = {
    "joined": "joined, at most 1 ohm",
    "open": "open, at least 1 megohm",
    "bleeder": "a bleeder, at least 10 kilohm",
    None: "not judged",
}
CHANGES_SINCE_COMMISSIONING = {
    "as_commissioned": "as at commissioning",
    "changed": "changed since commissioning",
    "cannot_tell": "cannot tell whether it changed since commissioning",
}
CHART_NOTES: dict[tuple[str, str], str] = {
    ("common_mode", "rejection"): "Higher is better. Upright stripes are bands.",
    (
        "common_mode",
        "impedance",
    ): "Resistance keeps its worth on any antenna; reactance may be cancelled by it.",
    ("load_match", "swr"): "Lower is better; 1 is a perfect match to 50 ohm.",
    ("load_match", "input"): "A perfect match is R at 50 ohm and X at 0.",
    ("insertion_loss", "loss"): "Lower is better. Loss is what is reflected and what turns to heat.",
    ("balance", "amplitude"): "0 dB: both halves are equally strong.",
    ("balance", "phase"): "0 degrees: the halves are exactly opposite.",
    ("balance", "cmrr"): "Higher is better: the wanted transmission over the unwanted.",
    ("in_situ", "swr"): "The same feed point, with the device in place and with a jumper instead.",
}


def format_method(kind: str, name: str | None) -> str:
    """Return kind and method in words, such as `Insertion loss, straight through`."""
    said = KINDS.get(kind, kind)
    return f"{said}, {METHODS[name]}" if kind == "insertion_loss" and name in METHODS else said


def format_leaving(min_joiners: int) -> str:
    """Write in three sentences what withdrawing does, what it does not undo, and what no rule prevents."""
    return (
        "You can withdraw a test at any time: its sweeps and figures are deleted at once, and nothing "
        "published afterwards holds them. "
        f"What was published of it stays as it was until {min_joiners} others have joined the design, at "
        "most three years, and copies that others downloaded cannot be recalled. "
        f"Of {min_joiners} people who join a design together, {min_joiners - 1} who conspire can still work "
        "out much of the last one's figure."
    )
