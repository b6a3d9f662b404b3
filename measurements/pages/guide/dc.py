"""Guide: ohmmeter first."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Entry, Section, Sign, Table
from measurements.pages.layout.cautions import list_cautions


def build_expected_table() -> Table:
    """Build the table of expected readings between the terminals, by type (common practice, no source)."""
    return Table(
        "Joined: at most 1 ohm. Open: at least 1 megohm.",
        ("Type", "C to A", "S to B", "C to S, A to B"),
        (
            ("1:1 current balun or choke", "joined", "joined", "open"),
            ("4:1 current balun of two lines", "joined", "joined", "joined"),
            ("Voltage balun", "joined", "joined", "joined"),
            ("Unun as an autotransformer (B is the shell)", "joined", "joined", "joined"),
            ("1:1 with a bleeder", "joined", "joined", "10 kilohm and more"),
            ("With an arrester that conducts", "joined", "joined", "not judged: take it out"),
        ),
    )


_SIGNS = (
    Sign(
        "C to A or S to B reads open.",
        "A wire is broken, or a joint has no contact.",
        "Move wires and joints while you watch the meter. Open it and solder anew.",
    ),
    Sign(
        "C to S reads a few ohms in a 1:1 current balun.",
        "Two wires touch: crushed coax, a whisker of braid, a shorted arrester or water.",
        "Take the arrester out and read again, then look at the plug, then at the winding.",
    ),
    Sign(
        "C to S reads kilohms that drift while you watch.",
        "Water, or a residue that conducts.",
        "Dry it, clean it, and read again. Compare the insulation dry and wet.",
    ),
    Sign(
        "All is joined, and nothing works.",
        "In this type an open winding does not show: another way leads around it.",
        "Make a load-match test: a winding that is open shows there at once.",
    ),
)

ENTRY = Entry(
    kind="dc",
    title="Ohmmeter first",
    question="Does it conduct where it should?",
    wonder="It is new, or it came down from the mast. Is anything broken?",
    intro="Two minutes with an ohmmeter find a broken wire or a short, which a common-mode sweep cannot see.",
    picture=(None, "through"),
    limits=(),
    cautions=list_cautions("dc"),
    sections=(
        Section(
            method=None,
            title="Between the terminals",
            when="For every device, before any sweep. C is the centre of the coax connector, S its shell. A "
            "and B are "
            "the two terminals of the balanced side. On a 1:1 A is the one that C goes to. On an unun A is "
            "the high "
            "end, and B is the end that goes to the shell.",
            drawn=("through", "across"),
            parts=("An ohmmeter.", "The device, joined to nothing else: no line, no antenna."),
            steps=(
                "Hold the two tips together and read: that is the meter's own zero. Take it off each "
                "reading.",
                "Read C to A and S to B: does each wire go through?",
                "Read C to S and A to B: is anything joined that should not be?",
                "Wiggle the plug and each terminal while you read. A jump is a bad joint.",
                "Read the insulation from the winding to the case, dry; then wet the outside and read it "
                "again.",
                "Send the readings: a line each, such as C A 0.2, or C S open.",
            ),
            result=(
                "Each reading beside what the type should show, and whether it holds.",
                "A reading that is wrong makes the device unserviceable until the same pair is read and "
                "good.",
                "For a 1:1 current balun good readings show that no wire is broken. For the other types "
                "they do "
                "not: that takes a load match.",
            ),
            signs=_SIGNS,
            tables=(build_expected_table,),
            watch=(
                "A bleeder and an arrester change what reads open. Say so when you send the readings.",
                "A meter's few volts prove nothing about hundreds of volts of a transmitter.",
            ),
            bench=("resistors",),
        ),
    ),
)
