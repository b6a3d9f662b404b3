"""What predictions and identifications leave this room as: frozen rows, made of what the viewer's circle may
know.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any

Statistic = dict[str, list[float | None]]


@dataclass(frozen=True)
class CautionRow:
    """What can hurt someone: a few words, and the sentence."""

    title: str
    text: str


@dataclass(frozen=True)
class PredictionSources:
    """What stands behind a prediction. learned: whether evidence of this mix, of so many designs and devices.

    release: which one was learned from; None: none, the tables alone. table_from_hz, table_to_hz: of the mix.
    """

    mix: str
    learned: bool
    designs: int
    devices: int
    release: int | None
    table_from_hz: float
    table_to_hz: float


@dataclass(frozen=True)
class BandChanceRow:
    """A band of a prediction. rejection_db: {p10, median, p90} of new devices' worst point in it.

    chance, rejection_db: None where the table of the mix does not cover the band. limit: `inductance`
    (more turns would raise it) or `resonance` (fewer would); None where it is likely to meet.
    """

    band: str
    chance: float | None
    rejection_db: dict[str, float | None]
    limit: str | None


@dataclass(frozen=True)
class NearDesignRow:
    """A design with evidence near a prediction. same: it is this recipe, as far as the model sees it."""

    design: str
    title: str
    same: bool


@dataclass(frozen=True)
class ProposalRow:
    """One core and its turns. recipe: as it could be registered. cores_in_all: stacked times lines.

    turns_from, turns_to: turns on this core that do about as well. turns_that_fit: in one layer, with
    a wire of wire_mm over its insulation; wire_assumed: nobody gave its size.
    """

    title: str
    recipe: dict[str, Any]
    part: str
    mix: str
    stacked: int
    cores_in_all: int
    turns: int
    turns_from: int
    turns_to: int
    turns_that_fit: int
    wire_mm: float
    wire_assumed: bool
    chance: float
    bands: tuple[BandChanceRow, ...]
    why: str
    built: bool
    near: tuple[NearDesignRow, ...]
    rests_on: PredictionSources


@dataclass(frozen=True)
class ProposalListRow:
    """passed_over: (mix, why) of cores on hand that nothing can be said of. tried: how many windings were."""

    proposals: tuple[ProposalRow, ...]
    passed_over: tuple[tuple[str, str], ...]
    bands: tuple[str, ...]
    benchmark_db: float
    tried: int
    release: int | None
    cautions: tuple[CautionRow, ...]


@dataclass(frozen=True)
class PredictionRow:
    """One recipe's prediction on freq_hz, each statistic {p10, median, p90} of new devices.

    chance: of meeting on all bands asked together; None without bands, or where one is not covered.
    covered_from_hz, covered_to_hz: where the table of the mix reaches; outside it nothing is said, `note`
    says so.
    """

    title: str
    recipe: dict[str, Any]
    freq_hz: tuple[float, ...]
    rejection_db: Statistic
    resistance_ohm: Statistic
    reactance_ohm: Statistic
    impedance_ohm: Statistic
    self_resonance_hz: dict[str, float | None]
    stray_capacitance_f: float
    chance: float | None
    bands: tuple[BandChanceRow, ...]
    benchmark_db: float
    covered_from_hz: float
    covered_to_hz: float
    note: str
    why: str
    fits: bool | None
    built: bool
    near: tuple[NearDesignRow, ...]
    rests_on: PredictionSources
    cautions: tuple[CautionRow, ...]


@dataclass(frozen=True)
class MixFitRow:
    """How a mix fits a sweep. share: how likely with these turns and this size, of all that may be so.
    left_over: rms, relative.

    factor_m: Ae/le of the core that fits; a_l_h: with it, inductance per turn squared at low frequency.
    """

    mix: str
    share: float
    left_over: float
    ruled_out: bool
    factor_m: float
    a_l_h: float | None
    stray_capacitance_f: float
    impedance_ohm: tuple[float, ...]


@dataclass(frozen=True)
class DecidingSweepRow:
    """A further sweep that would tell the likeliest two apart."""

    turns: int
    from_hz: float
    to_hz: float
    settles: bool


@dataclass(frozen=True)
class IdentificationRow:
    """answer: `one`, `cannot_tell` or `none_fits`. untabled: mixes that nobody can rule out for want of a
    table.

    other_share: of none of these, and of turns or a size that are not as told.
    freq_hz, impedance_ohm: what was compared, on the part of the sweep that all tables cover.
    """

    answer: str
    other_share: float
    sentence: str
    mixes: tuple[MixFitRow, ...]
    untabled: tuple[str, ...]
    deciders: tuple[DecidingSweepRow, ...]
    turns: int
    freq_hz: tuple[float, ...]
    impedance_ohm: tuple[float, ...]
    covered_from_hz: float
    covered_to_hz: float
    note: str
