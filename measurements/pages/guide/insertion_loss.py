"""Guide: the insertion-loss test and its methods."""

from measurements.pages.cautions import HEAT, POWER
from measurements.pages.guide.entry import Entry, Variant

ENTRY = Entry(
    kind="insertion_loss",
    title="Insertion loss",
    question="What does it cost?",
    gather=(
        "An analyser with S11, and with S21 for all methods but 'one port'.",
        "Resistors as the method asks, each measured on a meter.",
    ),
    steps=(
        "Choose the method below that fits your ratio and what is on the bench.",
        "Calibrate at the ends of the leads: losses are small, and every loose plug shows.",
        "Sweep and save S11 together with S21 where you can: then loss is split into heat and reflection.",
    ),
    reading=(
        "The house limit is 0.5 dB at the worst point of a band. 0.5 dB turned to heat is 11 of 100 watts.",
        "Loss is mismatch plus heat. Mismatch can be tuned out elsewhere; heat cannot.",
        "Each result names its assumption and its uncertainty.",
    ),
    mistakes=(
        "A 4:1 measured straight through reads 1.938 dB even if it is perfect, a 9:1 reads 4.437 dB: that is "
        "the mismatch of the ratio itself.",
        "Halving the loss of a pair is biased by 0.3 to 0.8 dB in a poor pair.",
    ),
    cautions=(POWER, HEAT),
    variants=(
        Variant("direct", "Straight through", "1:1 devices.", ("Input to port 1, output to port 2.",)),
        Variant(
            "renormalised",
            "Full two-port",
            "Any ratio; exact.",
            (
                "Unbalanced side to port 1, the other side to port 2; sweep.",
                "Turn the device round and sweep again, unless all four S-parameters are in one file.",
            ),
        ),
        Variant(
            "series_resistor",
            "Series resistor",
            "Any ratio, one device, one resistor; exact.",
            (
                "Unbalanced side to port 1.",
                "A resistor of (ratio − 1) × 50 ohm between the far terminal and the centre of port 2.",
            ),
        ),
        Variant(
            "one_port",
            "One port",
            "Any ratio, S11 only, one device.",
            (
                "Sweep S11 of the unbalanced side with the far side open,",
                "then shorted with the shortest link you can make,",
                "then in its nominal load, measured on a meter.",
            ),
        ),
        Variant(
            "back_to_back",
            "Back to back",
            "Two devices alike.",
            (
                "Join their high sides, input of one to port 1, of the other to port 2.",
                "Save S11 with S21. A sweep of one of them in its load removes the last assumption.",
            ),
        ),
        Variant(
            "pairs",
            "Three in pairs",
            "Three or more devices of any kind of the same ratio.",
            ("Sweep every pair back to back: first with second, first with third, second with third.",),
        ),
    ),
)
