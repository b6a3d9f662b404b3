"""The page about choosing and keeping a check standard, with how often its chart is wrong."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Table
from measurements.pages.guide.topics.guide_page import GuidePage, Part

# counted by tests/verdict/test_control_chart.py: 150 benches a line, ten bands
COUNTED = Table(
    "Counted on invented benches, ten bands. Usual: a figure scatters by 0.3 dB from night to night.",
    ("Change", "Bench", "Out of control says"),
    (
        ("none", "usual", "3 of 1,000 sweeps"),
        ("none", "twice as unsteady", "24 of 1,000 sweeps"),
        ("none", "three times as unsteady", "33 of 1,000 sweeps"),
        ("2 dB", "5 sessions", "the first sweep"),
        ("1 dB", "5 sessions", "4 of 10 at once; the others are never seen"),
        ("1 dB", "10 sessions", "7 of 10 at once, 8 of 10 within three nights"),
        ("1 dB", "20 sessions", "9 of 10 at once, nearly all within three nights"),
    ),
)

CHECK_STANDARD = GuidePage(
    "check_standard",
    "A check standard",
    "Does the bench still read what it read?",
    "One rugged device, swept at every night, never in service: while it reads as before, so does the bench.",
    (
        Part(
            "Choosing one",
            points=(
                "A choke of 20 to 30 dB on most bands, far below the floor of the jig.",
                "Screwed to a board, with sockets that are soldered, wires that cannot move, a lid.",
                "Ferrite changes with warmth, so it lives and is swept at room temperature.",
                "A 50-ohm load in a box of its own, swept as load match, checks the reflection side too.",
            ),
        ),
        Part(
            "Keeping it",
            steps=(
                "Let it lie in the room for an hour.",
                "Calibrate at the clips, sweep the jig, then sweep it: before the first device.",
                "Sweep it again after each new calibration, and at the end of a long night.",
                "Name analyser and jig by the same words each night: each bench has its own chart.",
                "Sweep the jig in the same way each night: a figure with its correction is another one than "
                "without.",
                "Never repair, wind or lend it. Dropped or changed, it begins a new chart.",
            ),
        ),
        Part(
            "What the chart says",
            points=(
                "It takes five sessions of a bench. Before: “not enough sweeps yet”, and no test waits.",
                "A session is a night, or what one account measured on one day. It counts once, however "
                "often you sweep.",
                "Limits rest on the first twenty sessions in control: a slow drift cannot hide in them.",
                "They aim at one false alarm in a hundred sweeps, all bands together, and are wider while "
                "sessions are few.",
            ),
            tables=(COUNTED,),
        ),
        Part(
            "When it is out of control",
            steps=(
                "Sweep it again. A clip that sat badly is the usual reason.",
                "All bands alike: calibration, cables, warm-up. Upper bands: the jig. Lower bands: itself.",
                "Calibrate at the clips again and sweep it once more.",
                "In control again, the tests count. Repeat those made before a new calibration.",
                "Is the reason known and harmless? An operator lets the tests count and says why.",
            ),
            text=(
                "Until then the tests of that night or day wait outside the evidence. Their verdicts stay: "
                "nothing was found in their own sweeps.",
            ),
        ),
        Part(
            "Carrying it around",
            text=(
                "The same device swept at another bench shows what that bench reads above yours, with its "
                "uncertainty. It holds as long as the device did not change on the way: sweep it at home "
                "before and after. It is shown, and corrects nothing.",
            ),
        ),
    ),
)
