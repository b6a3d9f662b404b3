"""Guide: the load-match test."""

from measurements.pages.cautions import POWER
from measurements.pages.guide.entry import Entry

ENTRY = Entry(
    kind="load_match",
    title="Load match",
    question="Does it present 50 ohm?",
    gather=(
        "An analyser that measures S11, calibrated at the end of its lead.",
        "A non-inductive resistor of ratio × 50 ohm: 50 for 1:1, 200 for 4:1, 450 for 9:1. Measure it on a "
        "meter.",
    ),
    steps=(
        "Solder or clip the resistor across the balanced side with leads as short as they go.",
        "Join the unbalanced side to port 1.",
        "Sweep S11 over the bands you care about and save the file.",
        "Enter the resistor's measured value with the upload.",
    ),
    reading=(
        "The house limit is an SWR of 1.5 at the worst point of a band.",
        "47 ohm in place of 50 is an SWR of 1.06 by itself: that is the resistor, not the device.",
    ),
    mistakes=(
        "Wire-wound resistors: their inductance looks like a bad device.",
        "A resistor for another ratio: the page flags a load far from nominal.",
    ),
    cautions=(POWER,),
)
