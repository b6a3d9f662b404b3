"""Guide: the load-match test."""

from __future__ import annotations

from measurements.pages.guide import resistors
from measurements.pages.guide.page_structure import Entry, Section, Sign
from measurements.pages.layout.cautions import list_cautions

_SIGNS = (
    Sign(
        "Good on the lower bands, steadily worse towards the upper ones.",
        "Leakage inductance: long leads, a loose winding, or a line of the wrong impedance inside. A "
        "transmission line inside a current balun wants the square root of input times load: 50 ohm for 1:1, "
        "100 ohm for 4:1, 150 ohm for 9:1.",
        "Shorten the leads of the resistor first and sweep again. Then look at the winding.",
    ),
    Sign(
        "Bad on the lower bands, good above.",
        "The winding's own inductance lies across the input and is too small there.",
        "More turns, a bigger or a second core, or a mix of higher permeability.",
    ),
    Sign(
        "Close to one other number everywhere, such as 2.25 or 4.",
        "The resistor belongs to another ratio, or the device is not of the ratio that was thought: a 4:1 "
        "with 50 ohm in place of 200 ohm reads an SWR of 4.",
        "Measure the resistor, count the turns, and correct the ratio where it is wrong.",
    ),
    Sign(
        "Very high everywhere.",
        "The load is missing, shorted, or a terminal has no contact.",
        "Check the clips with an ohmmeter, then sweep again.",
    ),
    Sign(
        "One narrow peak.",
        "A resonance of the winding with its own capacitance, or of leads that hang loose.",
        "Move the leads: a peak that moves with them is theirs. One that stays belongs to the device.",
    ),
)

ENTRY = Entry(
    kind="load_match",
    title="Load match",
    question="Does it present 50 ohm?",
    wonder="A new balun, a perfect dummy load behind it, and still the SWR is not 1.",
    intro="What a transmitter sees when the device has the load that it was made for. The load is a "
    "resistor, so whatever is not a perfect match is the device's own doing.",
    picture=(None, "sweep"),
    limits=(("load_match", "swr"),),
    cautions=list_cautions("load_match"),
    sections=(
        Section(
            method=None,
            title="The far side in its load",
            when="For every balun and unun that has a ratio, and for 1:1 devices too. It needs S11 only, "
            "so the simplest analyser will do.",
            drawn=("sweep",),
            parts=(
                "An analyser that measures S11.",
                "A resistor of ratio × 50 ohm without inductance: film or carbon, not wire-wound.",
                "An ohmmeter.",
            ),
            steps=(
                "Measure the resistor and write the value down: it goes into the form.",
                "Calibrate at the end of the lead where the device will be.",
                "Put the resistor across terminals A and B with leads as short as they go. Nothing else "
                "touches these terminals.",
                "Join the unbalanced side to port 1: centre to centre, shield to shield.",
                "Sweep S11 over 1 to 30 MHz, to 54 MHz where 6 m matters, and save the file.",
            ),
            result=(
                "SWR at the unbalanced side, return loss, and the input's resistance and reactance. A "
                "perfect match is an SWR of 1: 50 ohm and no reactance.",
                "A band is judged by its worst point.",
                "The resistor counts: 47 ohm in place of 50 ohm is an SWR of 1.06 by itself. More than 5 "
                "% off is noted; more than 20 % off, the test is left out of evidence.",
                "A good match does not say that little is lost: a lossy device matches well. Insertion "
                "loss is a test of its own.",
            ),
            signs=_SIGNS,
            tables=(resistors.build_load_table,),
            bench=("analyser", "resistors", "readings"),
            watch=("The coil of a wire-wound resistor looks exactly like a bad device.",),
        ),
    ),
)
