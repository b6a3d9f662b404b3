"""The page about how far to trust which method, from the count of the simulation."""

from __future__ import annotations

from measurements.pages.guide.page_structure import Table
from measurements.pages.guide.topics.guide_page import GuidePage, Part
from measurements.selectors.reference.coverage import CoverageRow, get_coverage

METHOD_NAMES = {
    "rejection": "rejection near 20 dB",
    "rejection with the through": "rejection near 20 dB, port 2 from the jig's through",
    "direct": "loss: direct",
    "direct with the through": "loss: direct, port 2 from the jig's through",
    "renormalised": "loss: renormalised",
    "series_resistor": "loss: series resistor",
    "series_resistor with the through": "loss: series resistor, port 2 from the jig's through",
    "one_port": "loss: one port",
    "back_to_back": "loss: pair back to back, taken as alike",
    "back_to_back with far_load": "loss: pair back to back with far_load",
    "known_partner": "loss: known partner",
    "known_partner with the through": "loss: known partner, port 2 from the jig's through",
    "pairs": "loss: pairs of three devices",
    "load_match": "SWR into the nominal load",
    "balance, amplitude": "balance: amplitude, by two sweeps",
    "balance, phase": "balance: phase, by two sweeps",
}


_UNITS = {"load_match": "", "balance, phase": "degrees"}


def build_coverage_table() -> Table:
    """List every cell but those of impedance: U to expect, and how often the truth lay within it."""
    count = get_coverage()
    rows = [row for row in count.rows if row.method in METHOD_NAMES]
    order = list(METHOD_NAMES)
    rows.sort(key=lambda row: (order.index(row.method), row.ratio, row.analyser, not row.described))
    return Table(
        f"Counted on {count.counted_on}, at least {count.draws:,} random devices and analysers a line.",
        ("What is measured", "Ratio", "Analyser", "Its errors", "Usual U", "Truth within U"),
        tuple(_build_line(row) for row in rows),
    )


def _build_line(row: CoverageRow) -> tuple[str, ...]:
    return (
        METHOD_NAMES[row.method],
        f"{row.ratio}:1",
        row.analyser,
        "described" if row.described else "not described",
        f"{row.median_u:.2f} {_UNITS.get(row.method, 'dB')}".rstrip(),
        f"{100 * row.inside:.0f} %",
    )


TRUSTING = GuidePage(
    "trusting",
    "How far to trust which method",
    "How sure is a figure?",
    "Every judged figure has an uncertainty U. A simulation counts how often the truth lies within it.",
    (
        Part(
            "What U says",
            points=(
                "The truth lies within the figure ± U about 95 times in 100.",
                "A figure inside the limit by U or more meets it; beyond it by U or more it falls short.",
                "Between them it is too close to call. That is an answer: only a better bench settles it.",
                "U follows from the analyser, the resistors and the jig. An analyser that nobody described "
                "gets the cautious values.",
                "Describe yours once under Account, My analysers, and measure it with up to three check "
                "sweeps. The calibration's own standards read perfect by construction: use others.",
            ),
        ),
        Part(
            "What no sweep shows",
            text=("Some mistakes leave no trace in the files. Check these at the bench:",),
            points=(
                "Less than about 1 m of cable behind port 2, outside the calibration, on an analyser of one "
                "direction. Rejection hardly moves; the impedance can be wrong. From 2 m on it is found 19 "
                "times in 20. Sweep the jig's through with S11, or turn the device round.",
                "Three far-side sweeps of another device in its own load: they fit each other as well as the "
                "right ones. Only the label on the device tells. Where one or two of the three are of "
                "another device, a quarter to all are found; the others move the loss by some 0.1 dB.",
                "A resistor that is wrong by less than its tolerance, and a load that drifts with heat.",
                "A calibration done with poor standards: every sweep agrees with it.",
            ),
        ),
        Part(
            "What to choose",
            points=(
                "One direction only: sweep the jig closed on itself and send it as jig_through. It takes the "
                "match of port 2 out of rejection and of the series resistor.",
                "A ratio of 9:1 or more: one port, or a pair with far_load. They need no second port.",
                "Renormalised at 49:1 cannot settle a limit of 0.5 dB, even on a good analyser.",
            ),
        ),
        Part(
            "What was counted",
            text=(
                "Each line drew random devices, analysers, resistors and drift, computed the figure as here, "
                "and compared it with the truth. The models are apart from the program that they judge.",
            ),
            tables=(build_coverage_table(),),
        ),
    ),
)
