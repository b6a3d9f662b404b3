"""Guide: the common-mode test."""

from measurements.pages.cautions import HEAT, POWER
from measurements.pages.guide.entry import Entry

ENTRY = Entry(
    kind="common_mode",
    title="Common mode",
    question="Does it choke?",
    gather=(
        "An analyser that measures S21, calibrated at the ends of the jig's leads.",
        "Two short clips, and a plate or strap that joins the two port shields.",
    ),
    steps=(
        "Tie both terminals of the input side together and to the centre of port 1.",
        "Tie both terminals of the output side together and to the centre of port 2.",
        "Join the shields of the two ports, close to the device. Nothing of the device touches them.",
        "Sweep 1 to 30 MHz, to 54 MHz if 6 m matters to you, and save a Touchstone file.",
        "Worth the two minutes: sweep the jig with nothing attached, linked, and closed on itself.",
    ),
    reading=(
        "The device is now one impedance in series between the ports; rejection is how much of the signal it "
        "keeps from port 2. In a 50-ohm system 20 dB is 900 ohm if it is resistive, 995 ohm if it is "
        "reactive.",
        "Resistance is worth more than reactance: a reactive choke can be cancelled by the antenna's own "
        "reactance.",
        "Near what the empty jig shows, a reading is 'at least': one picofarad across the clips is "
        "15.9 kilohm at 10 MHz.",
    ),
    mistakes=(
        "Under 1 dB everywhere: it is wired as a through. Tie each side's terminals together.",
        "Long clip leads: they add inductance and stray capacitance, and move the resonance.",
    ),
    cautions=(POWER, HEAT),
)
