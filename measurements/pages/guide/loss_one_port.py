"""Guide: insertion loss from three reflections of one device."""

from __future__ import annotations

from measurements.pages.guide import resistors
from measurements.pages.guide.entry import Section, Sign

ONE_PORT = Section(
    method="one_port",
    title="One port: open, shorted, loaded",
    when="For one device of any ratio with an analyser that measures S11 only. The far side touches no "
    "shield, so it is right for voltage baluns too.",
    drawn=("far_open", "far_short", "far_load"),
    parts=(
        "An analyser that measures S11.",
        "A resistor of ratio × 50 ohm without inductance: film or carbon, not wire-wound.",
        "A short link, an ohmmeter.",
    ),
    steps=(
        "Measure the resistor and write the value down: it goes into the form.",
        "Calibrate with care at the end of the lead: everything here is told from reflections.",
        "Join the unbalanced side to port 1 and leave it there, untouched, for all three sweeps.",
        "Sweep S11 with terminals A and B open: nothing attached, not even a clip.",
        "Sweep S11 with A and B shorted by the shortest link you can make.",
        "Sweep S11 with the resistor across A and B.",
        "Start, stop and number of points are the same in all three.",
    ),
    result=(
        "The three sweeps together are the whole two-port, so the loss follows as if both sides had been "
        "measured.",
        "The uncertainty beside each figure comes from how well your analyser tells reflections apart; it "
        "grows where open and shorted look nearly the same.",
    ),
    signs=(
        Sign(
            "The device seems to give out more than it takes.",
            "Two of the three files are exchanged, or the ratio or the resistor's value is wrong.",
            "Check which file is which, and the two numbers.",
        ),
        Sign(
            "The loss is ragged or jumps.",
            "The calibration is not good enough for this, or a contact changed between the sweeps.",
            "Calibrate again, sweep the three in a row, and let the analyser average.",
        ),
    ),
    tables=(resistors.loads,),
    bench=("analyser", "resistors"),
)
