"""Guide pages for the bench: the first choke test, calibrating at the clips, comparing two builds."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Table
from measurements.pages.guide.topics.guide_page import GuidePage, Part


def build_rejection_table() -> Table:
    """Build the rejections with their ohms in a 50-ohm jig.

    100 (10^(dB/20) - 1) if resistive, 100 sqrt(10^(dB/10) - 1) if reactive, from |1 + Z/100|.
    """
    rows = []
    for decibel in (10, 15, 20, 25, 30, 40):
        resistive = 100 * (10 ** (decibel / 20) - 1)
        reactive = 100 * (10 ** (decibel / 10) - 1) ** 0.5
        rows.append((f"{decibel} dB", f"{resistive:,.0f} ohm", f"{reactive:,.0f} ohm"))
    return Table(
        "Rejection in a 50-ohm jig, and the impedance that makes it.",
        ("Rejection", "if it is all resistance", "if it is all reactance"),
        tuple(rows),
    )


FIRST_CHOKE = GuidePage(
    "first_choke",
    "First choke test in ten minutes",
    "How do I make my first choke test?",
    "Nine lines, from the calibration to the verdict.",
    (
        Part(
            "Nine lines",
            steps=(
                "Clip a short lead to the centre of each port; join the shells of the two ports with a "
                "strap.",
                "Set 1 to 30 MHz and 401 points, and calibrate at the clips.",
                "Clip the two leads together and sweep: it must read 0.0 to 0.1 dB. That is the jig closed.",
                "Take the clips apart where the device will be, and sweep: that is the jig open, its floor.",
                "Choke: twist both wires of one end together. That is one side of it.",
                "Clip the one side to port 1, the other side to port 2. Nothing of the choke touches a "
                "shell: do "
                "not plug it in.",
                "Lay it on wood, keep your hands away, sweep and save the file.",
                "Upload the three files as a common-mode test.",
                "Read the worst point of your band: 20 dB or more meets the benchmark.",
            ),
            pictures=(
                ("common_mode", None, "jig_through"),
                ("common_mode", None, "jig_open"),
                ("common_mode", None, "sweep"),
            ),
            doors=(("pages:upload", "Upload the three files"), ("pages:check", "Check the last file alone")),
        ),
        Part(
            "One reading, worked out",
            text=(
                "On 40 m the screen shows 31 dB. All resistance, that is 100 × (10^(31/20) − 1) = 3,448 "
                "ohm. All "
                "reactance, it is 100 × √(10^(31/10) − 1) = 3,547 ohm. The truth lies between the two.",
            ),
            tables=(build_rejection_table(),),
        ),
        Part(
            "What 20 dB means on an antenna, and what it does not",
            points=(
                "In the jig 20 dB is 900 ohm of resistance between two ports of 50 ohm.",
                "On an antenna the current finds another impedance than 50 ohm, so it does not fall by 20 "
                "dB there. "
                "Where the line presents 500 ohm, 900 ohm of resistance leave 36 % of the current.",
                "Reactance may be cancelled by the line and then holds back nothing. Resistance cannot.",
                "More ohms of resistance are better everywhere. How many are needed depends on where it "
                "sits.",
            ),
        ),
    ),
)

CALIBRATING = GuidePage(
    "calibrating",
    "Calibrating at the clips",
    "How do I calibrate when there are clips and no plugs?",
    "The analyser has to know where its leads end. Show it three things at the clips, then join the ports.",
    (
        Part(
            "Four steps",
            steps=(
                "Open: the two clips of port 1 hold nothing, as far apart as they will hold the device.",
                "Short: the same two clips hold one short, thick wire.",
                "Load: they hold 50 ohm: two film resistors of 100 ohm side by side, short leads, read on "
                "a meter.",
                "Through: the centre clip of port 1 holds that of port 2; the shells stay joined.",
            ),
            pictures=(
                ("calibration", None, "open"),
                ("calibration", None, "short"),
                ("calibration", None, "load"),
                ("calibration", None, "through"),
            ),
        ),
        Part(
            "Did it work?",
            text=("The standards just used always read perfect. Take something else:",),
            points=(
                "A resistor of 100 ohm from another bag: an SWR of 2.0 at every frequency, within 0.1.",
                "Clips open once more, moved and put back: a return loss under 0.1 dB.",
                "Clips joined once more: S21 within 0.1 dB of 0.",
                "S11 of the joined clips: below −20 dB. That is the match of port 2; send it as jig_through.",
            ),
        ),
        Part(
            "When to do it again",
            points=(
                "Another range, lead or clip; a knock; a change of temperature by 5 °C or more; after two "
                "hours.",
                "Leads that you bend differently are other leads. Tape them to the board.",
            ),
        ),
    ),
)

COMPARING = GuidePage(
    "comparing",
    "Comparing two builds fairly",
    "Is mine better than the other one?",
    "Two figures differ for many reasons. Take them away one by one, and see what is left.",
    (
        Part(
            "On one bench",
            steps=(
                "Same jig, same calibration, same day, same range and points.",
                "Sweep A, B, A, B. What A differs from itself is what the bench adds.",
                "Change one thing between builds: core, turns or style. Two changes answer nothing.",
                "Compare at the worst point of a band, not at the peak.",
                "A difference within the two uncertainties is none.",
            ),
        ),
        Part(
            "What a figure here rests on",
            points=(
                "Members choose what to upload. Builds that failed are uploaded less often, so a group's "
                "figures "
                "may look better than all builds together.",
                "“Typically meets” says that a device newly built by somebody else very likely passes: "
                "eight in ten "
                "or more, as far as the figures of three or more people tell.",
                "A design that nobody has built has a prediction and no evidence. The page says which it is.",
                "“Likely, with little to spare” means that the worst point lies close to the limit.",
            ),
        ),
        Part(
            "What it cannot tell",
            points=(
                "Whether one will take more power: sweeps do not show that.",
                "How it does on your antenna: the jig has 50 ohm, your antenna has not.",
            ),
        ),
    ),
)
