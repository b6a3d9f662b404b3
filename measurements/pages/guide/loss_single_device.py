"""Guide: insertion loss from three reflections of one device."""

from __future__ import annotations

from measurements.pages.guide import resistors
from measurements.pages.guide.page_structure import Section, Sign

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
    tables=(resistors.build_load_table,),
    bench=("analyser", "resistors"),
)


# Guide: the methods of insertion loss that put one device between two ports.

_SHIELD = (
    "In this wiring terminal B goes to the shield of port 2, which inside the analyser is the shield of "
    "port 1. An unun and a good current balun bear that. A voltage balun does not: half of its winding is "
    "shorted. Nor does a 4:1 current balun that has both lines on one core. Measure those with one port, "
    "where the far side touches no shield.",
)

_LEADS = "Leads as short as they go: at 30 MHz 10 cm of loose wire are about 20 ohm."

DIRECT = Section(
    method="direct",
    title="Straight through",
    when="For 1:1 devices, whose two sides are both meant for 50 ohm. For any other ratio the reading "
    "holds the mismatch of the ratio itself; it is shown, and no verdict is passed.",
    drawn=("sweep", "sweep_reversed"),
    parts=("An analyser that measures S11 and S21.", _LEADS),
    steps=(
        "Calibrate at the ends of the leads, with the jig closed on itself as the through.",
        "Join the unbalanced side to port 1: centre to centre, shield to shield.",
        "Join terminal A to the centre of port 2 and terminal B to its shield.",
        "Sweep 1 to 30 MHz, to 54 MHz where 6 m matters. Save S11 together with S21.",
        "Worth having: a sweep of the jig closed on itself, with S11, and one with the device turned round. "
        "On an analyser of one direction the first takes out the match of its port 2.",
    ),
    result=(
        "Loss is what the level at port 2 has gone down by. With S11 it is split into what was reflected "
        "and what turned to heat.",
    ),
    signs=(
        Sign(
            "1.9 dB at 4:1, 4.4 dB at 9:1, and flat.",
            "That is the mismatch of the ratio, not a loss of the device.",
            "Take another method: with a series resistor, one port, or the full two-port.",
        ),
    ),
    tables=(resistors.build_floor_table,),
    watch=_SHIELD,
    bench=("analyser", "jig", "turned", "readings"),
)

RENORMALISED = Section(
    method="renormalised",
    title="Full two-port, renormalised",
    when="For any ratio, with all four S-parameters: from an analyser that measures them, or from two sweeps "
    "with the device turned round in between. No resistor is needed. At a high ratio it "
    "asks more than an analyser can give: at 49:1 an error of 0.01 in S22 moves the loss by −0.8 to +1.3 "
    "dB. Take "
    "one port there.",
    drawn=("sweep", "sweep_reversed"),
    parts=("An analyser that measures S11 and S21; all four spare you the turning.", _LEADS),
    steps=(
        "Calibrate at the ends of the leads, with the jig closed on itself as the through.",
        "Join the unbalanced side to port 1, terminal A to the centre of port 2 and B to its shield.",
        "Sweep, and save S11 together with S21, with phase.",
        "Turn the device round, terminals A and B on port 1, and sweep again: same start, stop and "
        "points. Not needed if the first file holds all four S-parameters.",
        "Give the ratio with the upload: it decides which load the loss is computed for.",
    ),
    result=(
        "The loss that this device has between 50 ohm and ratio × 50 ohm, computed from what it does between "
        "50 and 50 ohm.",
    ),
    signs=(
        Sign(
            "The two directions disagree.",
            "A ferrite winding is the same both ways: a lead moved, or the device was not turned.",
            "Repeat both sweeps without touching the leads in between.",
        ),
    ),
    watch=_SHIELD,
    bench=("analyser", "jig", "turned"),
)

SERIES_RESISTOR = Section(
    method="series_resistor",
    title="With a series resistor",
    when="For one device of any ratio above 1:1, with one resistor. Exact, and the simplest way with a "
    "two-port analyser.",
    drawn=("sweep",),
    parts=(
        "An analyser that measures S21; with S11 the loss is split too.",
        "A resistor Rs of (ratio − 1) × 50 ohm without inductance: film or carbon, not wire-wound.",
        "An ohmmeter.",
    ),
    steps=(
        "Measure the resistor and write the value down: it goes into the form.",
        "Calibrate at the ends of the leads, with the jig closed on itself as the through. The resistor "
        "is not part of the calibration.",
        "Join the unbalanced side to port 1: centre to centre, shield to shield.",
        "Put Rs between terminal A and the centre of port 2. Terminal B goes to the shield of port 2.",
        "Sweep, and save S11 together with S21.",
    ),
    result=(
        "With Rs in series with the 50 ohm of port 2 the device has its proper load. What the resistor "
        "itself takes is known, and is taken off.",
    ),
    signs=(
        Sign(
            "About 6 dB at 4:1, or 9.5 dB at 9:1, flat.",
            "That is what the resistor takes: the file was sent as a straight sweep.",
            "Send it again by this method.",
        ),
        Sign(
            "The loss grows with frequency and S11 does too.",
            "The resistor is not a pure resistance: long leads, or a coil.",
            "Shorter leads, another kind of resistor.",
        ),
    ),
    tables=(resistors.build_series_table,),
    watch=_SHIELD,
    bench=("analyser", "jig", "resistors"),
)
