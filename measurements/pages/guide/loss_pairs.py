"""Guide: the methods of insertion loss that put devices back to back."""

from __future__ import annotations

from measurements.pages.guide import resistors
from measurements.pages.guide.page_structure import Section, Sign

_JOIN = (
    "Join the high sides with short wires: A to A, B to B. They touch no shield.",
    "Join the unbalanced side of one to port 1 and of the other to port 2.",
)
_SAVE = "Sweep, and save S11 together with S21, with phase: it takes the interaction of their mismatches out."

BACK_TO_BACK = Section(
    method="back_to_back",
    title="Two alike, back to back",
    when="For two devices of one recipe, of any ratio. The high sides never meet the analyser, so the "
    "ratio does not matter and no resistor is needed.",
    drawn=("sweep", "far_load"),
    parts=(
        "Two devices built alike.",
        "An analyser that measures S11 and S21.",
        "Worth having: the load of ratio × 50 ohm for one more sweep.",
    ),
    steps=(
        "Calibrate at the ends of the leads, with the jig closed on itself as the through.",
        *_JOIN,
        _SAVE,
        "Worth having: take them apart and sweep S11 of one with its load across A and B. Then nothing "
        "has to be assumed about the inside of the devices. Same start, stop and points.",
    ),
    result=(
        "Half of the pair's loss is what is usually read. In a poor pair it is wrong by 0.3 to 0.8 dB, "
        "because the two mismatches work on each other.",
        "With S11 one device's own loss is computed instead, and both figures are shown. Without a sweep "
        "in the load, the winding's imperfections are taken to be split alike between its sides; the "
        "result names that assumption.",
        "If the devices differ a little, the figure is the mean of the two.",
    ),
    signs=(
        Sign(
            "The halved figure and the computed one lie far apart.",
            "The devices mismatch; the halved figure is the one that is wrong.",
            "Trust the computed one, and add the sweep in the load if it is missing.",
        ),
        Sign(
            "The loss is high and you do not know which of the two is to blame.",
            "A pair cannot tell.",
            "Measure a third device: three pairs tell all three apart.",
        ),
    ),
    tables=(resistors.build_load_table,),
    bench=("analyser", "jig", "turned", "resistors"),
)

KNOWN_PARTNER = Section(
    method="known_partner",
    title="Against a trusted partner",
    when="For one device and another of the same ratio whose own loss is known.",
    drawn=("sweep",),
    bench=("analyser", "jig"),
    parts=(
        "The device, and a partner of the same ratio whose loss was measured by an exact method.",
        "An analyser that measures S21.",
    ),
    steps=(
        "Calibrate at the ends of the leads, with the jig closed on itself as the through.",
        *_JOIN,
        "Sweep over the range in which the partner's loss is known.",
        "With the upload, name the stored test of the partner.",
    ),
    result=(
        "Loss of the device = loss of the pair − loss of the partner, both in dB.",
        "How the two work on each other at the joint is not known, so the figure is good to "
        "20 log10(1 ± |G1 G2|), G1 and G2 being their reflection coefficients at the joint: "
        "± 0.09 dB if both have 20 dB of return loss, + 0.8 to − 0.9 dB at 10 dB.",
    ),
    signs=(
        Sign(
            "The difference is negative.",
            "It lies within the bound above, or the partner is better now than it was said to be.",
            "Measure the partner again by itself, by one port or with a series resistor.",
        ),
    ),
)

PAIRS = Section(
    method="pairs",
    title="Three or more in pairs",
    when="For three or more devices of one ratio, none of them trusted, of any build. Every one of them "
    "gets its own figure.",
    drawn=("pair_ab", "pair_ac", "pair_bc"),
    parts=("Three devices of one ratio, with tags on them.", "An analyser that measures S11 and S21."),
    steps=(
        "Calibrate at the ends of the leads, with the jig closed on itself as the through.",
        "Call them first, second and third. The first is the one that the test is filed under.",
        "Join the high sides of the first and the second, low sides on the ports, and sweep.",
        "The same with the first and the third, then with the second and the third.",
        _SAVE,
        "Start, stop and number of points are the same in every sweep.",
    ),
    result=(
        "Three sums give three losses: the first is half of (first with second + first with third − second "
        "with third), and so on.",
        "Each is known to 0.87 of the uncertainty of one pair.",
        "A fourth device and its three more pairs (pair_ad, pair_bd, pair_cd over the API) leave a "
        "residual that shows how well the set agrees.",
    ),
    signs=(
        Sign(
            "One device comes out below zero.",
            "A joint was bad in the pair without it, or good only there.",
            "Repeat the three pairs, and wiggle nothing in between.",
        ),
        Sign(
            "The pairs contradict each other.",
            "One joint was wrong, or a device changed: a loose core, a warm one.",
            "Repeat the pair that fits worst.",
        ),
    ),
)
