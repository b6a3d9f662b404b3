"""Guide: the balance test."""

from measurements.pages.cautions import POWER
from measurements.pages.guide.entry import Entry

ENTRY = Entry(
    kind="balance",
    title="Balance",
    question="Are the two halves equal and opposite?",
    gather=(
        "An analyser that measures S21, and a 50-ohm terminator; or a three-port analyser.",
        "A jig that brings each balanced terminal out against the shield.",
    ),
    steps=(
        "Port 1 is the unbalanced side. Port 2 and port 3 are one balanced terminal each, against shield.",
        "With two ports: sweep port 1 to the first terminal with the second in 50 ohm to shield.",
        "Change over: sweep port 1 to the second terminal with the first in 50 ohm.",
        "Optional: sweep terminal to terminal with port 1 in 50 ohm; it gives the loss as well.",
    ),
    reading=(
        "Equal halves have 0 dB of amplitude imbalance and are 180 degrees apart, which is shown as "
        "0 degrees of phase imbalance. House limits: 1 dB and 10 degrees.",
        "CMRR here is the wanted (differential) transmission over the unwanted (common) one.",
    ),
    mistakes=(
        "Leads of different length to the two terminals: that is phase imbalance of the jig.",
        "The idle terminal left open instead of in 50 ohm.",
    ),
    cautions=(POWER,),
)
