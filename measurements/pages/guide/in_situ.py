"""Guide: device or antenna."""

from measurements.pages.cautions import AT_ANTENNA
from measurements.pages.guide.entry import Entry

ENTRY = Entry(
    kind="in_situ",
    title="At the antenna",
    question="Is it the device or the antenna?",
    gather=(
        "An analyser that measures S11 and runs from its own battery.",
        "A plain jumper that takes the device's place.",
    ),
    steps=(
        "Switch the transmitter off and take its lead away from the antenna.",
        "Discharge the antenna lead to ground, then join the analyser at the feed point.",
        "Sweep S11 through the device.",
        "Bypass the device with the jumper and sweep again, without moving anything else.",
    ),
    reading=(
        "Good with the jumper and bad through the device: the device is at fault.",
        "Bad both ways: look at the antenna or the feed line first. The device is not cleared by this.",
        "Good both ways: this test finds no fault.",
        "For a ratio other than 1:1 the comparison is only an indication.",
    ),
    mistakes=("Sweeping in the shack: the feed line's loss makes everything look better.",),
    cautions=AT_ANTENNA,
)
