"""Guide pages for ratio devices: winding a 49:1, voltage or current balun, and which test answers what."""

from __future__ import annotations

import math

from measurements.pages.guide.page_structure import Table
from measurements.pages.guide.topics.guide_page import GuidePage, Part

# Permeability of mix 43 at 3.459 MHz by the maker's table (Fair-Rite), and Ae/le of the 61 mm ring from
# its size.
MU_43, FREQ_HZ = 708.02 - 417.68j, 3.459e6
FACTOR_M = 12.7e-3 * math.log(61 / 35.55) / (2 * math.pi)


def compute_core_loss_db(turns: int, rings: int) -> float:
    """Compute what a core takes of a matched 50 ohm line, 10 log10(1 + 50 G) with G of its winding
    (textbook).
    """
    z_ohm = 2j * math.pi * FREQ_HZ * 4e-7 * math.pi * turns**2 * rings * FACTOR_M * MU_43
    return 10 * math.log10(1 + 50 * (1 / z_ohm).real)


def build_turns_table() -> Table:
    """Build the core loss of two to four turns on one and two rings."""
    rows = [
        (
            f"{turns}:{7 * turns}",
            *(f"{compute_core_loss_db(turns, rings):.2f} dB" for rings in (1, 2)),
        )
        for turns in (2, 3, 4)
    ]
    return Table(
        "Core loss on 80 m (3.5 MHz), 61 mm rings of mix 43, from the maker's table. Wire and leakage "
        "come on top.",
        ("Turns", "one ring", "two rings"),
        tuple(rows),
    )


WINDING_49 = GuidePage(
    "winding_unun",
    "Choosing and winding a 49:1",
    "Which core and how many turns for a 49:1?",
    "Too few turns lose on the low bands, too many on the high ones. The core decides where the middle is.",
    (
        Part(
            "What is in it",
            text=(
                "One winding. The whole of it is the 2,450 ohm side; the first turns alone are the 50 ohm "
                "side. "
                "The turns have the ratio 1:7, because the ratio of impedances is its square.",
            ),
            pictures=(("winding", None, "unun"),),
        ),
        Part(
            "How many turns",
            text=(
                "The turns of the 50 ohm side lie across the line like a coil. Their impedance must be "
                "well above "
                "50 ohm on the lowest band. It grows with the square of the turns and with the rings in "
                "the stack.",
            ),
            tables=(build_turns_table(),),
            points=(
                "Low bands lose: one more turn at the 50 ohm side, seven more in all, or one more ring.",
                "High bands lose and the SWR rises there: fewer turns, shorter leads, less capacitance at "
                "the far "
                "side.",
                "All bands lose alike: the mix, a joint, or a load resistor of another value.",
                "The page Predict computes both ends for your cores, with the interval that it is sure of.",
            ),
        ),
        Part(
            "Winding it",
            steps=(
                "Cut wire for all turns and 10 cm more. Use insulated wire: some mixes conduct.",
                "Wind the turns of the 50 ohm side first and twist their end out as the tap.",
                "Wind the others on in the same sense, evenly around the ring. Count passes through the "
                "hole.",
                "Keep the far end away from the case and from the first turns: 1 pF across 2,450 ohm is "
                "an SWR of "
                "1.58 at 30 MHz.",
                "Shell, far terminal B and the start of the winding are one point.",
                "Sweep it into 2,450 ohm. Then try 47, 68, 100 and 150 pF across the 50 ohm side (C), and "
                "keep what "
                "brings the SWR down on the highest band.",
            ),
        ),
        Part(
            "What goes wrong",
            points=(
                "2:21 in place of 3:21 is 110:1: into 2,450 ohm the SWR is 2.25 where the core is good. "
                "Count both.",
                "A single pass through the hole is one turn, also when the wire does not go around.",
                "An unun does not choke: the antenna may need a choke beside it, in the line.",
            ),
        ),
    ),
)

FOUR_TO_ONE = GuidePage(
    "four_to_one",
    "4:1: voltage or current balun?",
    "Which 4:1 balun do I need?",
    "Both make 200 ohm of 50. One holds the two voltages equal, the other the two currents.",
    (
        Part(
            "Voltage balun",
            text=(
                "Two equal windings in series on one core. The line lies across one of them, the antenna "
                "across "
                "both. The voltages at A and B are equal and opposite against the shell, whatever the "
                "antenna is.",
            ),
            points=(
                "One core, one winding of two wires side by side.",
                "Good where the load is balanced by itself, as a resistor at the bench.",
                "An antenna that is not balanced drives unequal currents, and the rest flows on the line.",
            ),
            pictures=(("winding", None, "voltage"),),
        ),
        Part(
            "Current balun",
            text=(
                "Two lines, each on a core of its own. They lie side by side at the 50 ohm end and in a "
                "row at the "
                "200 ohm end. Each core chokes its line, so the currents at A and B are equal and opposite.",
            ),
            points=(
                "Two cores. On one core the two lines work against each other when the load is not balanced.",
                "Best with lines of 100 ohm: a pair of wires comes near it, a 50 ohm coax does not.",
                "It rejects current on the line, and it is judged by that first.",
            ),
            pictures=(("winding", None, "current"),),
        ),
        Part(
            "Choose",
            tables=(
                Table(
                    "Which of the two, by what is to be fed.",
                    ("You feed", "Take", "because"),
                    (
                        ("a dipole, a loop, a doublet", "current", "it stays balanced when they are not"),
                        ("a line tuner's balanced output", "current", "the load is anything but 200 ohm"),
                        ("a resistor, a balanced filter", "voltage", "one core, and little loss"),
                        ("an antenna against ground", "neither: an unun", "one side is ground"),
                    ),
                ),
            ),
        ),
    ),
)

WHICH_TEST = GuidePage(
    "which_test",
    "Which test answers which question",
    "Which test answers my question?",
    "Each test answers one question. Begin with the question.",
    (
        Part(
            "Questions and tests",
            tables=(
                Table(
                    "The question, the test, and what decides.",
                    ("Question", "Test", "What decides"),
                    (
                        ("Does it keep current off the line?", "common mode", "rejection, 20 dB"),
                        ("Does my 49:1 or 4:1 present 50 ohm?", "load match", "SWR into ratio × 50 ohm, 1.5"),
                        ("How much does it lose?", "insertion loss", "loss, 0.5 dB"),
                        ("Are both halves alike?", "balance", "amplitude and phase of A and B"),
                        ("Is a wire broken?", "DC", "ohms between the terminals"),
                        ("Does it help at the antenna?", "in situ", "with the device and with a jumper"),
                    ),
                ),
            ),
        ),
        Part(
            "What each cannot tell",
            points=(
                "Common mode tells nothing of an unun's purpose, and nothing of a broken wire.",
                "A load match tells nothing of loss: a device that burns half the power can show an SWR "
                "of 1.1.",
                "A loss read straight through a 4:1 holds 1.9 dB of the ratio itself. Use one of the "
                "methods for "
                "ratio devices.",
                "Half the loss of two devices back to back is no device's own loss.",
                "None of them tells how much power a device bears.",
            ),
        ),
        Part(
            "My ratio device loses: which part is it?",
            points=(
                "More at the low end: too few turns, too little core, or another mix.",
                "More at the high end: leakage between the windings, capacitance at the far side, too "
                "many turns.",
                "Everywhere alike: a resistance in series or across, a lossy core, a wrong load resistor.",
                "SWR away from 1 in the middle of the sweep: the turns do not have the ratio.",
                "Send a load match and a loss test of the same device. Where they fall short, the page of "
                "the test "
                "weighs these causes, and names one only from four fifths on.",
            ),
        ),
    ),
)
