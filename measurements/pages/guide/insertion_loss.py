"""Guide: the insertion-loss test, what all of its methods have in common."""

from __future__ import annotations

from measurements.pages.guide.loss_pairs import BACK_TO_BACK, KNOWN_PARTNER, PAIRS
from measurements.pages.guide.loss_single_device import DIRECT, ONE_PORT, RENORMALISED, SERIES_RESISTOR
from measurements.pages.guide.page_structure import Entry, MethodChoice, Sign
from measurements.pages.layout.cautions import list_cautions

_CHOICES = (
    MethodChoice("A 1:1 device, and an analyser with S21", "direct"),
    MethodChoice("An analyser that measures S11 only", "one_port"),
    MethodChoice("A voltage balun, or a far side that must touch no shield", "one_port"),
    MethodChoice("One device of another ratio, one resistor, S21", "series_resistor"),
    MethodChoice("All four S-parameters, or the patience to turn the device round", "renormalised"),
    MethodChoice("Two devices alike", "back_to_back"),
    MethodChoice("A second device that you trust", "known_partner"),
    MethodChoice("Three devices or more, and none that you trust", "pairs"),
)

_SIGNS = (
    Sign(
        "Mostly reflection, little heat.",
        "The device does not match. That can be tuned out elsewhere, and it does not warm the device.",
        "Test the load match: it shows on which bands, and what helps.",
    ),
    Sign(
        "Mostly heat.",
        "Power stays in the core or the wire. At 0.5 dB it is 11 of every 100 watts, in a small volume.",
        "Use it with less power until it is rebuilt. More turns or a mix that is less lossy on these "
        "bands helps; so does thicker wire where the upper bands are worst.",
    ),
    Sign(
        "It rises towards the lower bands.",
        "Too little inductance: the winding draws current of its own.",
        "More turns, a bigger or a second core.",
    ),
    Sign(
        "It rises towards the upper bands.",
        "Leakage and capacitance, in the winding or in your leads.",
        "Shorten the leads first. Then a tighter winding, or lines of the right impedance.",
    ),
    Sign(
        "Below zero.",
        "No device gives out more than it takes: the calibration, a loose plug, or files that are mixed up.",
        "Calibrate again, sweep the jig closed on itself as a check, and repeat.",
    ),
    Sign(
        "10 dB and more over most of the sweep.",
        "It looks like a common-mode sweep, or a terminal has no contact.",
        "Check the wiring; file a common-mode sweep as such.",
    ),
)

ENTRY = Entry(
    kind="insertion_loss",
    title="Insertion loss",
    question="What does it cost?",
    wonder="The balun gets warm, or half a decibel matters to you.",
    intro="How much of the power that goes in does not come out, and how much of that turns to heat in the "
    "device. There are seven ways to measure it; which one fits depends on the ratio and on what lies on "
    "the bench.",
    picture=("series_resistor", "sweep"),
    limits=(("insertion_loss", "loss_db"),),
    cautions=list_cautions("insertion_loss"),
    choices=_CHOICES,
    result=(
        "Loss is mismatch plus heat. Where S11 was measured, the two are shown apart: mismatch can be "
        "tuned out elsewhere, heat cannot.",
        "A band is judged by its worst point.",
        "Losses are small, so every loose plug shows. Calibrate at the ends of the leads, and save S11 "
        "together with S21 wherever you can.",
        "Each result names what it assumes and how uncertain it is.",
    ),
    signs=_SIGNS,
    leading=("direct", "one_port", "back_to_back"),
    sections=(DIRECT, ONE_PORT, BACK_TO_BACK, SERIES_RESISTOR, RENORMALISED, KNOWN_PARTNER, PAIRS),
)
