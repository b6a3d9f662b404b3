"""Guide: the common-mode test."""

from __future__ import annotations

from measurements.pages.guide import resistors
from measurements.pages.guide.page_structure import Entry, Section, Sign
from measurements.pages.layout.cautions import list_cautions

_SIGNS = (
    Sign(
        "Under 1 dB everywhere.",
        "The device is wired as a plain connection, not as a choke; or it is a voltage balun, which is "
        "not made to choke.",
        "Look at the drawing: each side's two terminals belong together, and none of them touches a shield.",
    ),
    Sign(
        "It falls short on the lower bands only.",
        "Too little inductance: too few turns, too small a core, or a mix for higher frequencies.",
        "Add turns (the inductance grows with their square) or stack a second core, and sweep again.",
    ),
    Sign(
        "It falls short on the upper bands only.",
        "Those bands lie above the self-resonance, where the capacitance from one end of the winding to the "
        "other leads the current around the core.",
        "Fewer turns, start and end of the winding further apart, a split winding, or the same turns shared "
        "between two chokes in series.",
    ),
    Sign(
        "It meets the benchmark, but hardly any of it is resistance.",
        "On an antenna the other sort of reactance can cancel it, and the choke disappears at that "
        "frequency.",
        "Prefer a mix that is lossy on these bands. Look at the smallest resistance in the band, not only at "
        "the rejection.",
    ),
    Sign(
        "It falls short on every band.",
        "Not the core that was meant, a cracked core, or far fewer turns than noted.",
        "Compare the low-frequency inductance with the maker's A_L (inductance of one turn) times turns "
        "squared. More than the "
        "maker's tolerance off (usually 20 to 25 %): suspect the turns count or the mix.",
    ),
    Sign(
        "The curve flattens where the jig with nothing attached stands.",
        "You are looking at the jig. Within 10 dB of it a reading can be 3 dB too low or too high.",
        "Sweep the jig open and linked, and it is taken out. Shorten the leads, or put a screen between "
        "the two "
        "clips.",
    ),
)

ENTRY = Entry(
    kind="common_mode",
    title="Common mode",
    question="Does it choke?",
    wonder="RF in the shack, noise that the coax brings in, a pattern that is not what it should be.",
    intro="How much a choke or a current balun holds back of the current that should not flow: the one on "
    "the outside of the coax. Of this test the evidence of a design is made.",
    picture=(None, "sweep"),
    limits=(("common_mode", "rejection_db"),),
    cautions=list_cautions("common_mode"),
    sections=(
        Section(
            method=None,
            title="The device in series between two ports",
            when="For every choke and every current balun, whatever its ratio. A voltage balun may read "
            "almost nothing here; that is how it is made, not a fault.",
            drawn=("sweep", "sweep_reversed"),
            parts=(
                "An analyser that measures S21.",
                "Two clips on leads as short as they go.",
                "A strap or a plate that joins the shields of the two ports.",
            ),
            steps=(
                "Calibrate at the ends of the jig's leads, where the clips are.",
                "Tie both terminals of the input side together and clip them to the centre of port 1.",
                "Tie both terminals of the output side together and clip them to the centre of port 2.",
                "Join the shields of the two ports, close to the device. Nothing of the device touches them.",
                "Keep the device clear of metal, bench and hands.",
                "Sweep 1 to 30 MHz, to 54 MHz where 6 m matters, with 401 points or more, and save a "
                "Touchstone file.",
                "While everything stands: sweep the jig as well, as on the page about the bench. It takes "
                "two minutes and shows how far the figures can be trusted.",
                "If your analyser measures one direction only and you have the time, turn the device round "
                "and sweep again: the full two-port leaves out what the jig shunts to ground.",
            ),
            result=(
                "The device is now one impedance between the two ports. Rejection is how far below a plain "
                "wire the signal at port 2 is, in dB: more is better.",
                "A band is judged by its worst point.",
                "Resistance is worth more than reactance: the antenna's own reactance can cancel the "
                "choke's, its resistance cannot.",
                "Below the self-resonance the device is an inductance, above it a capacitance; the page "
                "gives both figures where the sweep shows them.",
                "Stray capacitance rules the upper end: one picofarad across the clips is 15.9 kilohm at "
                "10 MHz.",
            ),
            signs=_SIGNS,
            tables=(resistors.build_equivalents_table,),
            bench=("analyser", "jig", "turned", "readings"),
            watch=(
                "Long clip leads add inductance and capacitance and move the resonance. A few centimetres "
                "show at 30 MHz.",
                "From S11 alone, the far side shorted to shield, the impedance follows too, but poorly above "
                "1 kilohm: it is the smallest change of a reflection of nearly 1.",
            ),
        ),
    ),
)
