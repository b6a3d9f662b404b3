"""What is wished for, what may be used for it, and what one winding promises on every band of the wish."""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from measurements.rf.bands import Band
from measurements.rf.ferrites import learned_windings, prediction, winding_terms
from measurements.rf.ferrites.design_evidence import DB_PER_NEPER, TWICE_Z0_OHM, rejection_of_impedance_db
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import LearnedWindings
from measurements.rf.ferrites.prediction import ModelDraws
from measurements.rf.ferrites.winding_model import BEADS_STYLE, WindingModel, build_stacked_winding
from measurements.rf.ferrites.winding_terms import LAW_TERMS
from measurements.rf.sweeps.sweep import Floats

MOST_TURNS = 30

UNKNOWN_WIRE_MM = 3.0  # over the insulation, where a list gives no diameter; the proposal says so

LIKELY_CHANCE = 0.9  # a band that is met so often is not what limits a winding

ChanceLimit = Literal["inductance", "resonance"]


@dataclass(frozen=True)
class AvailableCore:
    """A ring or bead that may be used. name: its part number, or how its owner calls it."""

    name: str
    size_mm: tuple[float, float, float]
    mix: str


@dataclass(frozen=True)
class WindingGoal:
    """What is to be wound. stacks: how many cores on top of each other may be tried (beads: on one cable).

    wires: how many conductors go along in every turn. lines: see `Wound`.
    """

    bands: tuple[Band, ...]
    benchmark_db: float
    style: str
    wires: int
    wire_mm: float | None
    split: bool
    lines: int
    stacks: tuple[int, ...]

    @property
    def edges_hz(self) -> Floats:
        """Return both edges of every band (2B,). Rejection has one peak, so it is smallest in a band at an
        edge.
        """
        return np.array([edge for band in self.bands for edge in (band.start_hz, band.stop_hz)])


@dataclass(frozen=True)
class BandChance:
    """Worst-in-band rejection of new devices: 10th, 50th, 90th percentile, and the chance to meet.

    limit: why it may fall short: too little `inductance` (one more turn would raise it) or a `resonance`
    that lies too low (one more turn would lower it); None where it is likely to meet.
    """

    band: str
    chance: float
    low_db: float
    median_db: float
    high_db: float
    limit: ChanceLimit | None = None


@dataclass(frozen=True)
class WindingProposal:
    """chance: of meeting on all bands at once. turns_alike: from, to: others on it that do about as well.

    built: the design of the evidence that this is, by key; None where none is.
    """

    core: AvailableCore
    count: int
    wound: WindingModel
    chance: float
    bands: tuple[BandChance, ...]
    turns_alike: tuple[int, int]
    built: str | None = None

    @property
    def median_db(self) -> float:
        """Return median rejection on the worst band."""
        return min(band.median_db for band in self.bands)


def count_fitting_turns(core: AvailableCore, wish: WindingGoal) -> int:
    """Return the most turns that lie side by side along the wall of the bore, in one layer, at most 30.

    More wires may go in (`winding_check.room_in_bore`), but in a second layer, whose capacitance the law does
    not know.
    """
    wire_mm = UNKNOWN_WIRE_MM if wish.wire_mm is None else wish.wire_mm
    ring_mm = core.size_mm[1] - wire_mm
    if ring_mm < 0:
        return 0
    layer = 1 if ring_mm < wire_mm else math.floor(math.pi / math.asin(wire_mm / ring_mm) + 1e-9)
    return min(layer // wish.wires, MOST_TURNS)


def wind_core(core: AvailableCore, count: int, turns: int, wish: WindingGoal) -> WindingModel:
    """Return the winding of a wish on so many of this core."""
    return build_stacked_winding(
        core.size_mm,
        count,
        mix=core.mix,
        style=wish.style,
        turns=turns,
        wire_mm=wish.wire_mm,
        split=wish.split,
        lines=wish.lines,
    )


def compute_chances(worst_db: Floats, wish: WindingGoal) -> tuple[float, tuple[BandChance, ...]]:
    """Return the chance on all bands at once, and each band's, from draws of its worst rejection (S, B)."""
    low, middle, high = prediction.compute_interval(worst_db)
    meets = worst_db >= wish.benchmark_db
    bands = tuple(
        BandChance(band.name, float(meets[:, i].mean()), float(low[i]), float(middle[i]), float(high[i]))
        for i, band in enumerate(wish.bands)
    )
    return float(meets.all(axis=1).mean()), bands


def judge_winding(
    believed: LearnedWindings,
    table: Permeability,
    wound: WindingModel,
    wish: WindingGoal,
    built: str | None = None,
) -> tuple[float, tuple[BandChance, ...]]:
    """Return `chances` of one winding with all draws, each unlikely band with what limits it.

    built: a design with evidence that this is; its own evidence then counts before everybody's.
    """
    drawn = prediction.draw_model(believed, wound.mix, table, wish.edges_hz)
    edges_db = rejection_of_impedance_db(prediction.predict_design_ohm(believed, drawn, table, wound, built))
    chance, bands = compute_chances(edges_db.reshape(len(edges_db), -1, 2).min(axis=2), wish)
    limited = (
        each
        if each.chance >= LIKELY_CHANCE
        else replace(each, limit=find_chance_limit(believed, table, wound, band))
        for each, band in zip(bands, wish.bands, strict=True)
    )
    return chance, tuple(limited)


def find_chance_limit(
    believed: LearnedWindings, table: Permeability, wound: WindingModel, band: Band
) -> ChanceLimit:
    """Say whether one more turn would raise the worse edge of a band or lower it."""
    edges_hz = np.array([band.start_hz, band.stop_hz])
    mean, _ = believed.of(wound.mix)
    log_mu = winding_terms.table_log_mu(table, edges_hz) + learned_windings.log_mu_correction(mean, edges_hz)
    at = winding_terms.compute_winding_terms(
        edges_hz, log_mu, float(learned_windings.log_stray_f(mean, wound)), wound
    )
    by_turns = 2 * at.by_mu + mean[LAW_TERMS.index("turns") - len(LAW_TERMS)] * at.by_stray
    rises = (DB_PER_NEPER * at.z_ohm / (at.z_ohm + TWICE_Z0_OHM) * by_turns).real
    return "inductance" if rises[int(np.argmin(rejection_of_impedance_db(at.z_ohm)))] > 0 else "resonance"


def is_same_winding(first: WindingModel, other: WindingModel) -> bool:
    """Say whether two windings are one recipe as far as the model sees it."""
    sizes = abs(first.factor_m / other.factor_m - 1) < 0.01 and abs(first.turn_mm / other.turn_mm - 1) < 0.01
    wires = {first.wire_mm, other.wire_mm}
    alike = None in wires or abs((first.wire_mm or 1) / (other.wire_mm or 1) - 1) < 0.1
    return sizes and alike and _name(first) == _name(other)


class KnownDesigns:
    """Designs with evidence, to be found by their winding without looking at each of thousands."""

    def __init__(self, designs: Mapping[str, WindingModel]) -> None:
        self._by_name: dict[tuple[object, ...], list[tuple[str, WindingModel]]] = {}
        for key, wound in designs.items():
            self._by_name.setdefault(_name(wound), []).append((key, wound))

    def key_of(self, wound: WindingModel) -> str | None:
        """Return the key of the first design that is this winding; None where none is."""
        alike = self._by_name.get(_name(wound), [])
        return next((key for key, other in alike if is_same_winding(wound, other)), None)


def _name(wound: WindingModel) -> tuple[object, ...]:
    return wound.mix, wound.style, wound.turns, wound.split, wound.lines


# Which core and how many turns: every core on hand times every number of turns that fits its bore, ranked.
#
# Vectorised over all candidates of a mix: C candidates, S draws, F frequencies. The draws are those of
# `predicting`; the best of this screening are judged again with all of them.

SCREENING_DRAWS = 64

ALIKE_CHANCE = 0.03  # chances that differ by no more are the same: draws tell no finer

CANDIDATES_AT_ONCE = 100  # candidates at a time: memory does not grow with the drawer

WindingCandidate = tuple[AvailableCore, int, WindingModel]


def propose_windings(
    believed: LearnedWindings,
    tables: Mapping[str, Permeability],
    cores: Sequence[AvailableCore],
    wish: WindingGoal,
    most: int = 12,
) -> list[WindingProposal]:
    """Return the best proposals, one for each core and stack, the likeliest first.

    Passed over: mixes without a table or whose table ends short of a band, and cores that no turn fits.
    """
    found: list[WindingProposal] = []
    for mix in sorted({core.mix for core in cores} & set(believed.mixes)):
        if tables[mix].covers(wish.edges_hz):
            drawn = prediction.draw_model(believed, mix, tables[mix], wish.edges_hz, SCREENING_DRAWS)
            found += _propose_for_mix(drawn, [core for core in cores if core.mix == mix], wish)
    known = KnownDesigns({key: own.wound for key, own in believed.designs.items()})
    best = [_judge_again(believed, tables, each, wish, known) for each in sorted(found, key=_rank)[:most]]
    return sorted(best, key=_rank)


def _judge_again(
    believed: LearnedWindings,
    tables: Mapping[str, Permeability],
    each: WindingProposal,
    wish: WindingGoal,
    known: KnownDesigns,
) -> WindingProposal:
    built = known.key_of(each.wound)
    chance, bands = judge_winding(believed, tables[each.core.mix], each.wound, wish, built)
    return replace(each, chance=chance, bands=bands, built=built)


def _propose_for_mix(
    drawn: ModelDraws, cores: Sequence[AvailableCore], wish: WindingGoal
) -> list[WindingProposal]:
    """Return one proposal for each core and stack of a mix."""
    tried = [each for core in cores for each in _list_candidates(core, wish)]
    if not tried:
        return []
    wounds = [wound for _, _, wound in tried]
    parts = range(0, len(tried), CANDIDATES_AT_ONCE)
    worst_db = np.concatenate(
        [_worst_db(drawn, wounds[start : start + CANDIDATES_AT_ONCE]) for start in parts]
    )
    by_core: dict[tuple[str, int], list[int]] = {}
    for index, (core, count, _) in enumerate(tried):
        by_core.setdefault((core.name, count), []).append(index)
    return [_choose_best([tried[row] for row in rows], worst_db[rows], wish) for rows in by_core.values()]


def _list_candidates(core: AvailableCore, wish: WindingGoal) -> list[WindingCandidate]:
    fitting = count_fitting_turns(core, wish)
    most = min(fitting, 1) if wish.style == BEADS_STYLE else fitting
    return [
        (core, count, wind_core(core, count, turns, wish))
        for count in wish.stacks
        for turns in range(1, most + 1)
    ]


def _worst_db(drawn: ModelDraws, wounds: Sequence[WindingModel]) -> Floats:
    """Return worst-in-band rejection (C, S, B) from draws at the edges of B bands.

    In single precision, which is far finer than any draw, and twice as fast.
    """
    omega = 2 * np.pi * drawn.freq_hz
    rows = np.array([winding_terms.build_law_row(wound) for wound in wounds])
    shift_mu = drawn.shifts[:, 0] + drawn.shifts[:, 2]
    # admittances in units of two ports in series, and the misfit in both of them
    by_misfit = TWICE_Z0_OHM * np.exp(-drawn.misfit)
    per_henry = (by_misfit * np.exp(-drawn.log_mu - shift_mu[:, None]) / (1j * omega)).astype(np.complex64)
    per_farad = (by_misfit * 1j * omega).astype(np.complex64)
    log_stray = rows @ drawn.coefficients[:, -len(LAW_TERMS) :].T + drawn.shifts[:, 1] + drawn.shifts[:, 3]
    lines = np.array([wound.lines for wound in wounds])
    henries = np.array([wound.l0_h for wound in wounds]) / lines
    farads = (lines[:, None] * np.exp(log_stray)).astype(np.float32)[:, :, None]
    total = per_henry[None] * (1 / henries).astype(np.float32)[:, None, None] + per_farad[None] * farads
    size = np.abs(1 + 1 / total)
    worst: Floats = 20 * np.log10(np.minimum(size[..., ::2], size[..., 1::2])).astype(np.float64)
    return worst


def _choose_best(tried: Sequence[WindingCandidate], worst_db: Floats, wish: WindingGoal) -> WindingProposal:
    """Return the turns that do best on one core; where several are as likely, those with most to spare."""
    chance = (worst_db >= wish.benchmark_db).all(axis=2).mean(axis=1)
    middle = np.median(worst_db, axis=1).min(axis=1)
    alike = np.flatnonzero(chance >= chance.max() - ALIKE_CHANCE).tolist()
    row = max(alike, key=lambda each: (middle[each], -each))
    core, count, wound = tried[row]
    together, bands = compute_chances(worst_db[row], wish)
    turns = [tried[each][2].turns for each in alike] if together > 0 else [wound.turns]
    return WindingProposal(core, count, wound, together, bands, (min(turns), max(turns)))


def _rank(proposal: WindingProposal) -> tuple[float, float, float]:
    """Return likeliest first, in steps of what draws can tell; then fewer cores, then most to spare."""
    return (-round(proposal.chance / ALIKE_CHANCE), proposal.count, -proposal.median_db)
