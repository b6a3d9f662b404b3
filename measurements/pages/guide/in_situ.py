"""Guide: device or antenna."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Entry, Section, Sign
from measurements.pages.layout.cautions import list_cautions

_SIGNS = (
    Sign(
        "Good with the jumper, bad through the device.",
        "The device is at fault.",
        "Take it to the bench: load match and insertion loss show what is wrong with it.",
    ),
    Sign(
        "Bad both ways.",
        "The antenna or its feed line comes first. The device is not cleared: it may be bad as well.",
        "Look for a broken or wet joint, water in the coax, something near the wire. Repeat both sweeps "
        "after each repair.",
    ),
    Sign(
        "Good both ways.",
        "This test finds no fault.",
        "If the trouble is RF in the shack or noise, test for common mode: does it choke?",
    ),
    Sign(
        "Bad with the jumper, good through the device.",
        "The device transforms the impedance, as it may be meant to, or its loss hides the reflection.",
        "Measure its insertion loss on the bench before you trust it with power.",
    ),
)

ENTRY = Entry(
    kind="in_situ",
    title="At the antenna",
    question="Is it the device or the antenna?",
    wonder="The SWR was fine last year and is not now. Who is to blame?",
    intro="The same feed point swept twice: once through the device, once with a plain jumper in its place. "
    "This is the one test with an antenna, so the cautions come first.",
    picture=(None, "sweep"),
    limits=(("load_match", "swr"),),
    cautions=list_cautions("in_situ"),
    sections=(
        Section(
            method=None,
            title="Through the device and past it",
            when="When an installed antenna misbehaves and the device can be reached safely. For a ratio "
            "of 1:1 the comparison is fair; for any other it is only an indication, and the result "
            "says so.",
            drawn=("sweep", "sweep_bypassed"),
            parts=(
                "An analyser that measures S11 and runs from its own battery.",
                "A plain jumper: two short wires with clips.",
                "A lead to ground, to discharge the antenna with.",
            ),
            steps=(
                "No thunderstorm near, transmitter off, its lead taken away from the antenna.",
                "Discharge the antenna lead to ground before an analyser is joined to it.",
                "Join the analyser to the unbalanced side of the device, at the feed point, and sweep S11.",
                "Discharge again, take the device out, put the jumper in its place and move nothing else.",
                "Sweep S11 again over the same range.",
                "Put the device back, or leave the antenna disconnected: a jumper is not a balun.",
            ),
            result=(
                "Two SWR curves of one feed point, and a finding for each band.",
                "'Good' means within the limit over the whole band.",
                "An antenna is meant to be good on its own bands only; read the others with that in mind.",
            ),
            signs=_SIGNS,
            watch=(
                "Sweep at the feed point, not in the shack: the loss of the feed line makes everything look "
                "better than it is.",
                "You and the analyser's case are part of the antenna while you hold it. Step back, or lay it "
                "down, and see whether the curve changes.",
                "If the feed point cannot be reached without a ladder, a climb or a raised mast, that is "
                "work for people who do this by licence and local code. Lower the antenna, or leave it.",
            ),
        ),
    ),
)
