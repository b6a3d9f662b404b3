"""Which panels a kind of test is drawn in: a table, one row per panel."""

from __future__ import annotations

from dataclasses import dataclass

from measurements.charts.lines import Line


@dataclass(frozen=True)
class Panel:
    """One panel. limit: the key of the result's summary that holds the limit; 'limit_words' names it.

    digits: decimals that are drawn. zero: whether the axis starts at nothing.
    """

    name: str
    title: str
    axis: str
    lines: tuple[Line, ...]
    digits: int = 2
    limit: str | None = None
    limit_words: str = ""
    zero: bool = True


_SWR = Panel(
    "swr",
    "SWR at the input",
    "SWR",
    (Line("swr", "SWR"),),
    limit="swr_limit",
    limit_words="limit {:g}",
    zero=False,
)
_INPUT = Panel(
    "input",
    "Input impedance",
    "R and X, ohm",
    (Line("resistance_ohm", "R"), Line("reactance_ohm", "X")),
    digits=1,
)

PANELS: dict[str, tuple[Panel, ...]] = {
    "common_mode": (
        Panel(
            "rejection",
            "Rejection",
            "Rejection, dB",
            (Line("rejection_db", "rejection"),),
            limit="benchmark_db",
            limit_words="benchmark {:g} dB",
        ),
        Panel(
            "impedance",
            "Common-mode impedance",
            "|Z|, R and X, ohm",
            (Line("impedance_ohm", "|Z|"), Line("resistance_ohm", "R"), Line("reactance_ohm", "X")),
            digits=0,
        ),
    ),
    "load_match": (_SWR, _INPUT),
    "insertion_loss": (
        Panel(
            "loss",
            "Insertion loss and where it goes",
            "Loss, dB",
            (
                Line("loss_db", "loss"),
                Line("dissipative_db", "turned to heat"),
                Line("mismatch_db", "reflected"),
                Line("halved_db", "half the pair"),
            ),
            digits=3,
            limit="loss_limit_db",
            limit_words="limit {:g} dB",
        ),
    ),
    "balance": (
        Panel(
            "amplitude",
            "Amplitude imbalance",
            "Imbalance, dB",
            (Line("amplitude_imbalance_db", "imbalance"),),
            limit="amplitude_limit_db",
            limit_words="limit {:g} dB",
        ),
        Panel(
            "phase",
            "Phase imbalance",
            "Imbalance, degrees",
            (Line("phase_imbalance_deg", "imbalance"),),
            limit="phase_limit_deg",
            limit_words="limit {:g} degrees",
        ),
        Panel("cmrr", "Common-mode rejection ratio", "CMRR, dB", (Line("cmrr_db", "CMRR"),)),
    ),
    "in_situ": (
        Panel(
            "swr",
            "SWR at the feed point",
            "SWR",
            (Line("swr_through", "through the device"), Line("swr_bypassed", "bypassed by a jumper")),
            limit="swr_limit",
            limit_words="limit {:g}",
            zero=False,
        ),
    ),
}
