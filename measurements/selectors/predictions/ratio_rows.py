"""What predictions of ratio devices leave this room as: frozen rows."""

from __future__ import annotations

from dataclasses import dataclass

from measurements.selectors.predictions.rows import CautionRow

Percentiles = dict[str, float | None]


@dataclass(frozen=True)
class RatioBandRow:
    """Worst point of a band, each {p10, median, p90} of new devices, nulls where `why_not` says why.

    heat_w_per_100_w: what 100 W at the input leave in the device, by small-signal loss. No power rating.
    """

    band: str
    loss_db: Percentiles
    swr: Percentiles
    dissipative_db: Percentiles
    heat_w_per_100_w: Percentiles
    chance: float | None
    why_not: str


@dataclass(frozen=True)
class RatioProposalRow:
    """near_turns: at the unbalanced side, of a current device of each line; far_turns: between the far
    terminals.

    wound_ratio: impedance ratio of the turns as they are. compensation_f: across the unbalanced side, 0
    for none.
    chance: smallest among the bands, None where a band is not predicted. fits: whether the turns lie in
    one layer.
    """

    title: str
    part: str
    mix: str
    stacked: int
    cores_in_all: int
    near_turns: int
    far_turns: int
    wound_ratio: float
    compensation_f: float
    wire_m: float
    fits: bool
    bands: tuple[RatioBandRow, ...]
    chance: float | None


@dataclass(frozen=True)
class RatioListRow:
    """passed_over: (mix, why). rests_on: sources of the figures, in words."""

    proposals: tuple[RatioProposalRow, ...]
    passed_over: tuple[tuple[str, str], ...]
    bands: tuple[str, ...]
    ratio: str
    principle: str
    loss_limit_db: float
    swr_limit: float
    release: int | None
    rests_on: str
    cautions: tuple[CautionRow, ...]
