"""Guide pages for work at the antenna: after a storm, the feed line, opening a device, commissioning."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Table
from measurements.pages.guide.topics.guide_page import GuidePage, Part

AFTER_STORM = GuidePage(
    "after_storm",
    "After a storm",
    "What do I do first after a storm?",
    "Look before you touch. Most of what a storm breaks can be seen from the ground.",
    (
        Part(
            "Before you go near",
            steps=(
                "Wait until the storm has passed. No radio is worth a walk under a wire that moves.",
                "Look for wires that are down, and for anything that touches a power line. If there is "
                "one, or "
                "you are not sure: stay away, keep others away, call the utility.",
                "Look at mast, guys and roof from where nothing can fall on you.",
            ),
        ),
        Part(
            "From the ground",
            steps=(
                "With field glasses: wire, ends, insulators, feed point, drip loop of the line.",
                "Is the device upright, its lid closed, its drain hole down?",
                "Is the arrester dark, cracked or hot? Lightning may have gone through it.",
            ),
        ),
        Part(
            "In the shack",
            steps=(
                "Leave the transmitter off and the line away from it. Discharge the line.",
                "Sweep the line at the shack end, and lay the sweep of commissioning beside it.",
                "As then: it came through. Changed: go on with the line, then the device.",
            ),
        ),
        Part(
            "In this order",
            steps=(
                "The line, with a dummy load at its far end.",
                "Plugs, arrester, ground.",
                "The device in its place, then the bypass test.",
                "Device on the bench: ohmmeter, load match, common mode.",
            ),
            text=("The fault search on a device's page leads through this and keeps what you found.",),
        ),
    ),
)

FEED_LINE = GuidePage(
    "feed_line",
    "Is it the feed line?",
    "Is it the feed line?",
    "Line, plugs, arrester and ground fail more often than any core, and they are quicker to test.",
    (
        Part(
            "The line alone",
            steps=(
                "Lower the antenna. Take the line off the device.",
                "Put a dummy load of 50 ohm at the far end.",
                "Sweep S11 in the shack on the bands of the antenna.",
                "Good: an SWR of 1.2 or less there (common practice). The antenna and the device are out "
                "of it.",
                "Move each plug and the line near it while you watch. A jump is a bad joint.",
            ),
        ),
        Part(
            "Its loss, and a trap",
            text=(
                "Loss in the line makes every SWR in the shack look better than it is. A line full of "
                "water shows a "
                "fine SWR and no antenna.",
            ),
            steps=(
                "Take the dummy load off and leave the far end open.",
                "Sweep S11. Half of its return loss is the loss of the line.",
                "Compare with the maker's table for this length, and with the sweep of commissioning.",
            ),
            tables=(
                Table(
                    "What the open line shows: return loss, the line's own loss, and the SWR that it makes "
                    "of a "
                    "total reflection.",
                    ("Return loss, open end", "Loss of the line", "SWR in the shack"),
                    (
                        ("1 dB", "0.5 dB", "17.4"),
                        ("3 dB", "1.5 dB", "5.8"),
                        ("6 dB", "3 dB", "3.0"),
                        ("12 dB", "6 dB", "1.7"),
                    ),
                ),
            ),
        ),
        Part(
            "Plugs",
            points=(
                "Dry and bright inside. Green or white bloom, or a smell of burnt plastic: make it anew.",
                "With the far end open the ohmmeter shows centre and shell apart; with it shorted, joined.",
                "The braid holds when you pull; the centre pin does not move.",
            ),
        ),
        Part(
            "Arrester",
            steps=(
                "Take it out and join the line straight through.",
                "Sweep again. If it is better, the arrester has failed.",
                "Its ohmmeter reading from centre to shell is open, unless its maker says that it conducts.",
            ),
        ),
        Part(
            "Ground",
            points=(
                "Clamp and strap bright and tight; no bloom between two metals.",
                "From the shell of the line at the arrester to the rod: at most 1 ohm on the meter.",
            ),
        ),
    ),
)

OPENING = GuidePage(
    "opening",
    "Opening, drying, closing",
    "How do I open it without making it worse?",
    "What is inside, what good and bad look like, and how it stays dry afterwards.",
    (
        Part(
            "Opening",
            steps=(
                "Take it down, let it cool, discharge the wires. Wear eye protection.",
                "Make a picture before anything is moved, and one of each step.",
                "Cut the seal all round; never lever against the core.",
            ),
        ),
        Part(
            "Joints, cores, hardware",
            tables=(
                Table(
                    "Look at each, with good light and a lens.",
                    ("What", "Good", "Bad"),
                    (
                        (
                            "Solder joint",
                            "smooth, flows to the wire",
                            "dull, cracked in a ring, a ball on the wire",
                        ),
                        ("Screwed joint", "tight, toothed washer, bright", "turns by hand, black or green"),
                        ("Core", "whole, no rattle", "a crack, a chip, two halves with a gap, burnt tape"),
                        ("Winding", "turns lie still", "chafed, crossed, brown from heat"),
                        (
                            "Hardware",
                            "stainless, locked",
                            "rust, missing lock washer, two metals that eat each other",
                        ),
                        ("Tracking", "clean plastic", "black trees between terminals: replace the part"),
                        ("Insects", "none", "a nest holds water: clear it, close the way in"),
                        ("Water in plugs", "dry braid", "black braid: cut back until it is bright"),
                    ),
                ),
            ),
        ),
        Part(
            "Drying",
            steps=(
                "Rinse salt and dirt off with clean water, then with alcohol.",
                "Dry at 50 °C at most for a day, with the lid off. A core that gets hotter may change for "
                "good.",
                "Read the insulation before and after. It should rise and stay.",
            ),
        ),
        Part(
            "Closing",
            steps=(
                "Renew the seal; do not add to an old one. Sealants that smell of vinegar corrode copper.",
                "A drain hole at the lowest point, small enough for insects to stay out.",
                "The load on the relief, a drip loop in the line, the plug taped and wrapped.",
                "Ohmmeter, load match and common mode again before it goes up: what was opened is a new "
                "device.",
            ),
        ),
    ),
)

COMMISSIONING = GuidePage(
    "commissioning",
    "Commissioning and yearly checks",
    "What do I keep, so that I can compare later?",
    "An hour on the first day saves a day of guessing later: what was good then is what is compared with.",
    (
        Part(
            "On the first day",
            steps=(
                "Device on the bench: ohmmeter, load match, common mode. Choose these tests as its "
                "commissioning.",
                "The line alone with a dummy load, swept in the shack.",
                "At the feed point: through the device and with a jumper, under one name of the antenna.",
                "The whole, swept in the shack, on each band. Note the weather.",
                "Pictures: device open, device closed, feed point, each plug before it is wrapped.",
            ),
        ),
        Part(
            "Each year, and after a storm",
            steps=(
                "Look from the ground.",
                "Sweep in the shack and lay it beside the first one.",
                "Where it changed: line, device in place, bypass test, bench.",
                "The inspection asks for every item that applies.",
            ),
        ),
        Part(
            "Is it the device, or the bench?",
            text=("A difference between two years is the device's only if the bench reads as it did.",),
            see=("check_standard", "Choosing and keeping a check standard"),
        ),
        Part(
            "To print",
            form=(
                "Device",
                "Antenna and place",
                "Date",
                "Weather",
                "Ohmmeter: C to A, S to B, C to S, ohm",
                "Insulation dry and wet, megohm",
                "Load resistor as measured, ohm",
                "Load match: worst SWR and band",
                "Common mode: worst rejection, dB, its ohms, and band",
                "Line with dummy load: worst SWR",
                "Line open: return loss, dB",
                "Feed point through the device: least SWR at MHz",
                "Feed point with jumper: least SWR at MHz",
                "Shack: least SWR at MHz, each band",
                "Files kept under",
                "Next check due",
                "Name",
            ),
        ),
    ),
)
