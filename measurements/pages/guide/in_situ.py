"""Guide: device or antenna."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Entry, Section, Sign
from measurements.pages.layout.cautions import list_cautions

_SIGNS = (
    Sign(
        "The device makes it worse.",
        "With the jumper the SWR is far lower. That alone proves no fault of the device.",
        "Take it to the bench: ohmmeter, load match, common mode.",
    ),
    Sign(
        "The device changes nothing.",
        "The antenna is as it is. This neither blames nor clears antenna or device.",
        "If the SWR in the shack is high: line, plugs, arrester and ground come next.",
    ),
    Sign(
        "Better through the device.",
        "Without a choke the line, the analyser and you are part of the antenna; or the device swallows "
        "power.",
        "Measure its insertion loss on the bench before you trust it with power.",
    ),
    Sign(
        "Cannot tell.",
        "Both reflect nearly everything, the bands contradict each other, or the difference is one that a "
        "healthy "
        "device makes too.",
        "Test the line and the device each alone. A sweep of commissioning would have helped: make one now.",
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
    limits=(),
    cautions=list_cautions("in_situ"),
    sections=(
        Section(
            method=None,
            title="Through the device and past it",
            when="When an installed antenna misbehaves and the device can be reached safely. The sweep of "
            "the jumper is referred to ratio × 50 ohm, so any ratio compares like with like. The coax to the "
            "shack is "
            "in neither sweep.",
            drawn=("sweep", "sweep_bypassed"),
            parts=(
                "An analyser that measures S11 and runs from its own battery.",
                "A plain jumper: two short wires with clips.",
                "A lead to ground, to discharge the antenna with.",
            ),
            steps=(
                "No thunderstorm near; every transmitter off, and the line taken away from the antenna.",
                "Discharge both legs: ground clip first, then the insulated lead.",
                "Join the analyser to the unbalanced side of the device, at the feed point, and sweep S11.",
                "Discharge again, take the device out, put the jumper in its place and move nothing else.",
                "Sweep S11 again over the same range.",
                "Put the device back, or leave the antenna disconnected: a jumper is not a balun.",
            ),
            result=(
                "Two SWR curves of one feed point, and a finding for each band.",
                "The curves are compared with each other, and with the first test under the same name of the "
                "antenna. Neither is held against a limit: a healthy dipole has 2.2 at a band edge.",
                "On 1,792 simulated pairs of antenna and device no healthy one was blamed, and more than "
                "eight in "
                "ten gross faults were found. The rest is 'cannot tell'.",
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
