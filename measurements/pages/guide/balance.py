"""Guide: the balance test."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Entry, Section, Sign
from measurements.pages.layout.cautions import list_cautions

_SIGNS = (
    Sign(
        "Both imbalances grow towards the lower bands.",
        "The device chokes too little there, so the side that is nearer to the shield carries more.",
        "Test it in common mode too; if that falls short on the same bands, more turns or more core help "
        "both.",
    ),
    Sign(
        "The phase imbalance grows in proportion to frequency.",
        "One way is longer than the other: in the device, or just as likely in the jig.",
        "Exchange the two leads and sweep again. What changes sign is the jig's.",
    ),
    Sign(
        "One half is far weaker, by 6 dB or more, on every band.",
        "A terminal that has no contact, a wrong connection inside, or a device that is no balun: an unun "
        "has one hot terminal.",
        "Check the terminals with an ohmmeter and the connections of the winding against its recipe.",
    ),
    Sign(
        "The two halves are in phase.",
        "One winding is connected the wrong way round.",
        "Find its two ends and exchange them.",
    ),
    Sign(
        "The sweeps disagree with each other.",
        "The terminal that is not swept was not ended in 50 ohm, or something moved.",
        "Put the terminator on and repeat all of them in one sitting.",
    ),
)

ENTRY = Entry(
    kind="balance",
    title="Balance",
    question="Are the two halves equal and opposite?",
    wonder="One leg of the dipole seems to do all the work; the feed line picks up noise.",
    intro="How equal in strength, and how exactly opposite, the voltages are that a balun puts on its two "
    "terminals when each of them has the same load to the shield.",
    picture=(None, "sweep_12"),
    limits=(("balance", "amplitude_imbalance_db"), ("balance", "phase_imbalance_deg")),
    cautions=list_cautions("balance"),
    sections=(
        Section(
            method=None,
            title="Each terminal against the shield",
            when="For baluns. A three-port analyser does it in one sweep; a two-port analyser takes two, or "
            "three if the loss is wanted as well.",
            drawn=("sweep_12", "sweep_13", "sweep_23", "sweep"),
            parts=(
                "An analyser that measures S21, or one with three ports.",
                "A resistor of 50 ohm without inductance, or a terminator, for the port that is not swept.",
                "A plate that brings each balanced terminal out beside the shield, with equal leads.",
            ),
            steps=(
                "Calibrate at the ends of the leads. The two leads to the balanced terminals are of one "
                "length.",
                "Join port 1 to the unbalanced side, and the shields of all ports at the device.",
                "Two ports, first sweep: port 2 on terminal A, terminal B in 50 ohm to the shield.",
                "Second sweep: port 2 on terminal B, terminal A in 50 ohm to the shield.",
                "Third sweep, if the loss is wanted: port 1 on A, port 2 on B, the unbalanced side in 50 "
                "ohm. For the loss the three must hold all four S-parameters.",
                "Three ports: port 2 on A, port 3 on B, one sweep, saved as .s3p.",
                "Start, stop and number of points are the same in every sweep.",
            ),
            result=(
                "Amplitude imbalance: how much stronger one half is. 0 dB is perfect.",
                "Phase imbalance: how far the halves are from exactly opposite. 0 degrees is perfect.",
                "CMRR, in dB: the wanted, opposite part over the unwanted, equal part. More is better. Some "
                "manuals use the same letters for another ratio; figures compare only if they mean this one.",
                "A band is judged by its worst point.",
            ),
            signs=_SIGNS,
            bench=("analyser", "resistors"),
            watch=(
                "Loads of 50 ohm to the shield are part of the test. On an antenna whose halves differ, a "
                "current balun still keeps the currents equal; this test does not show that. Test it in "
                "common mode as well.",
            ),
        ),
    ),
)
