"""How the fault search is worded: symptoms, steps, answers and conclusions."""

from __future__ import annotations

from measurements.pages.layout.wording import Badge

SYMPTOMS: dict[str, tuple[str, str]] = {
    "high_swr": ("The antenna shows a high SWR", "Is it the line, the device or the antenna?"),
    "rf_in_shack": ("RF in the shack", "The microphone bites, sound or computers are disturbed on transmit."),
    "noise": ("More noise on receive", "Noise that was not there before, perhaps from the house."),
    "after_storm": ("After a storm", "Wind, ice or lightning went over it."),
    "after_transmitting": ("After transmitting", "It began on the air: a smell, heat, a jump of the SWR."),
    "intermittent": ("It comes and goes", "Good one minute and bad the next."),
    "weather": ("Wet weather", "Rain, fog or frost make it worse, and it recovers when it dries."),
}
SEARCH_STEPS: dict[str, str] = {
    "ground_look": "Look from the ground",
    "shack_sweep": "Sweep in the shack",
    "line": "The line with a dummy load at its far end",
    "line_parts": "Plugs, arrester and ground",
    "inspection": "Inspection of the device in its place",
    "bypass": "Bypass test at the antenna",
    "dc": "Ohmmeter on the bench",
    "load_test": "Load-match test on the bench",
    "common_mode": "Common-mode test on the bench",
    "device": "The build of the device",
}
# a step that a choice answers -> how it is made
STEP_TASKS: dict[str, tuple[str, ...]] = {
    "ground_look": (
        "Stand well away. Is a wire down, near a power line, or is anything on the roof or mast loose?",
        "Look at the wire, the ends, the feed point and the line with field glasses.",
    ),
    "shack_sweep": (
        "Take the line off the transmitter and sweep S11 at this end, on the bands of the antenna.",
        "Lay the sweep of commissioning, made at this same end, beside it.",
        "Changed: the least SWR moved by more than 2 % in frequency, or it is more than twice as high.",
    ),
    "line": (
        "Lower the antenna. Take the line off the device and put a dummy load of 50 ohm at the far end.",
        "Sweep S11 in the shack. Good: the SWR is at most 1.2 on these bands (common practice).",
        "Move each plug while you watch: a jump is a bad joint.",
    ),
    "line_parts": (
        "Plugs: dry, bright, tight; with the far end open the ohmmeter shows centre and shell apart.",
        "Arrester: take it out and join the line straight through. Is it better? Then the arrester has "
        "failed.",
        "Ground: clamp and strap tight and bright. With the shell of the line at the arrester, at most 1 "
        "ohm.",
    ),
}
STEP_CHOICES: dict[str, dict[str, str]] = {
    "ground_look": {
        "good": "Nothing to see",
        "watch": "Something to keep an eye on",
        "fault": "Something is broken or has come down, far from any power line",
        "danger": "A wire is down or touches a power line, or I am not sure",
    },
    "shack_sweep": {
        "as_commissioned": "As at commissioning",
        "changed": "It changed",
        "unclear": "There is no sweep of commissioning",
    },
    "line": {"good": "The line is good", "bad": "The line is bad"},
    "line_parts": {
        "good": "All three are good",
        "plug_fault": "A plug is bad",
        "arrester_fault": "The arrester is bad",
        "ground_fault": "The ground is bad",
    },
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
    "danger": Badge("Danger", "danger", "shape-short", "is-short", ""),
    "mixed": Badge("Good on some bands only", "some bands", "shape-mixed", "is-mixed", ""),
    "as_commissioned": Badge("As at commissioning", "as then", "shape-meets", "is-meets", ""),
    "changed": Badge("Changed since commissioning", "changed", "shape-mixed", "is-mixed", ""),
    "plug_fault": Badge("A plug is bad", "plug", "shape-short", "is-short", ""),
    "arrester_fault": Badge("The arrester is bad", "arrester", "shape-short", "is-short", ""),
    "ground_fault": Badge("The ground is bad", "ground", "shape-short", "is-short", ""),
    "does_not_choke": Badge("Not made to choke", "does not choke", "shape-mixed", "is-mixed", ""),
    "skipped": Badge("Passed over", "passed over", "shape-few", "is-few", ""),
}


def get_bypass_badge(finding: str) -> Badge:
    """Get the badge of a bypass finding; a name of an older engine decides nothing now."""
    return STEP_OUTCOMES.get(finding, STEP_OUTCOMES["inconclusive"])


SEARCH_FINDINGS: dict[str, tuple[str, str]] = {
    "stay_away": (
        "Stay away and call",
        "A downed wire, and anything that touches one, is live until the utility says otherwise. Nothing "
        "here "
        "needs to be measured now.",
    ),
    "seen_from_ground": (
        "Mend what you saw",
        "Something is broken or has come down. Mend it, then begin again: more may be wrong.",
    ),
    "plug_fault": ("A plug is bad", "Make it anew, keep it dry, and begin again: more may be wrong."),
    "arrester_fault": (
        "The arrester is bad",
        "Replace it. What went through it may have gone on to the device: test that too.",
    ),
    "ground_fault": ("The ground is bad", "Make clamp and strap bright and tight, then begin again."),
    "line_bad": (
        "The line is bad",
        "It does not carry 50 ohm from one end to the other. Water, a crushed place or a plug: replace it or "
        "cut the bad end off.",
    ),
    "seen_fault": (
        "The inspection found a fault",
        "Mend what was found, then make the tests again before the device goes back into service.",
    ),
    "does_not_conduct": (
        "The device does not conduct as its type should",
        "A wire is broken, or two are joined that should not be. Open it and look for the place.",
    ),
    "transforms_wrong": (
        "The device transforms wrongly",
        "With a resistor for an antenna it does not show the right load. Count the turns, measure each "
        "winding, look for a cracked core.",
    ),
    "chokes_too_little": (
        "The device chokes too little",
        "The line carries current on its outside and becomes part of the antenna. More turns, a second core "
        "or the right mix help; a prediction shows what to expect.",
    ),
    "does_not_choke": (
        "It does not choke: add a choke",
        "A voltage balun or an unun is not made to hold this current back, and that is no fault of it. Put a "
        "choke beside it.",
    ),
    "worse_in_place": (
        "The device makes it worse in its place",
        "With a jumper the SWR is far lower. This alone proves no fault of the device: what the bench says "
        "counts more.",
    ),
    "device_changes_nothing": (
        "The device changes nothing",
        "The antenna is as it is with and without it. Line, plugs, arrester and ground come next. Neither "
        "antenna nor device is cleared or blamed by this.",
    ),
    "better_through_device": (
        "Better through the device",
        "Without a choke the line and you are part of the antenna; or the device swallows power. Measure its "
        "insertion loss.",
    ),
    "changed_at_shack": (
        "Something changed since commissioning",
        "The sweep in the shack is not the one of then. It does not say where.",
    ),
    "as_commissioned_now": (
        "Now it is as at commissioning",
        "If the trouble comes and goes, repeat this sweep while it lasts.",
    ),
    "to_be_watched": (
        "Something on the device is to be watched",
        "The inspection noted it. It is no fault, and it is not all good either.",
    ),
    "watch_from_ground": (
        "Something up there is to be watched",
        "It was seen from the ground. It is no fault yet.",
    ),
    "on_some_bands": (
        "It chokes on some bands and not on others",
        "A choke for 40 m may do nothing on 160 m. Begin again with the band on which the trouble is.",
    ),
    "matches_on_some_bands": (
        "It matches on some bands and not on others",
        "Begin again with the band on which the trouble is.",
    ),
    "contradiction": (
        "Two findings contradict each other",
        "Both cannot be the whole truth. Repeat the two, one after the other, with nothing moved between "
        "them.",
    ),
    "elsewhere": (
        "The choke does its work on the bench",
        "The current may come from elsewhere. Try a second choke where the line enters the house; look at "
        "the "
        "antenna's own balance and at the ground of the station.",
    ),
    "nothing_found": (
        "Nothing found in what was looked at",
        "If the trouble comes back, begin again while it lasts.",
    ),
    "nothing_known": (
        "Nothing is known yet",
        "Every step was passed over or said nothing. Begin again when there is time for the first one.",
    ),
}


def get_search_finding(finding: str) -> tuple[str, str]:
    """Get the words of a finding; one of an older search says only that it has ended."""
    return SEARCH_FINDINGS.get(finding, ("Ended", "This search was ended under earlier rules."))
