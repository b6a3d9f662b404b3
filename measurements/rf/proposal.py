"""What is wished for, what may be used for it, and what one winding promises on every band of the wish."""

from __future__ import annotations

import math
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from . import learned, predicting, winding_terms
from .bands import Band
from .design_evidence import DB, TWICE_Z0_OHM, rejection_db
from .ferrite import Permeability
from .learned import Learned
from .sweep import Floats
from .winding_terms import LAW
from .wound import Wound, stacked

MOST_TURNS = 30
UNKNOWN_WIRE_MM = 3.0  # over the insulation, where a list gives no diameter; the proposal says so
LIKELY = 0.9  # a band that is met so often is not what limits a winding
Limit = Literal["inductance", "resonance"]


@dataclass(frozen=True)
class CoreOnHand:
    """A ring or bead that may be used. name: its part number, or how its owner calls it."""

    name: str
    size_mm: tuple[float, float, float]
    mix: str


@dataclass(frozen=True)
class Wish:
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
        """Both edges of every band (2B,). Rejection has one peak, so it is smallest in a band at an edge."""
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
    limit: Limit | None = None


@dataclass(frozen=True)
class Proposal:
    """chance: of meeting on all bands at once. turns_alike: from, to: others on it that do about as well.

    built: the design of the evidence that this is, by key; None where none is.
    """

    core: CoreOnHand
    count: int
    wound: Wound
    chance: float
    bands: tuple[BandChance, ...]
    turns_alike: tuple[int, int]
    built: str | None = None

    @property
    def median_db(self) -> float:
        """Median rejection on the worst band."""
        return min(band.median_db for band in self.bands)


def turns_that_fit(core: CoreOnHand, wish: Wish) -> int:
    """The most turns that lie side by side along the wall of the bore, in one layer, at most 30.

    More wires may go in (`winding_check.room_in_bore`), but in a second layer, whose capacitance the law does
    not know.
    """
    wire_mm = UNKNOWN_WIRE_MM if wish.wire_mm is None else wish.wire_mm
    ring_mm = core.size_mm[1] - wire_mm
    if ring_mm < 0:
        return 0
    layer = 1 if ring_mm < wire_mm else math.floor(math.pi / math.asin(wire_mm / ring_mm) + 1e-9)
    return min(layer // wish.wires, MOST_TURNS)


def wound_on(core: CoreOnHand, count: int, turns: int, wish: Wish) -> Wound:
    """The winding of a wish on so many of this core."""
    return stacked(
        core.size_mm,
        count,
        mix=core.mix,
        style=wish.style,
        turns=turns,
        wire_mm=wish.wire_mm,
        split=wish.split,
        lines=wish.lines,
    )


def chances(worst_db: Floats, wish: Wish) -> tuple[float, tuple[BandChance, ...]]:
    """The chance on all bands at once, and each band's, from draws of its worst rejection (S, B)."""
    low, middle, high = predicting.interval(worst_db)
    meets = worst_db >= wish.benchmark_db
    bands = tuple(
        BandChance(band.name, float(meets[:, i].mean()), float(low[i]), float(middle[i]), float(high[i]))
        for i, band in enumerate(wish.bands)
    )
    return float(meets.all(axis=1).mean()), bands


def judged(
    believed: Learned, table: Permeability, wound: Wound, wish: Wish, built: str | None = None
) -> tuple[float, tuple[BandChance, ...]]:
    """`chances` of one winding with all draws, each unlikely band with what limits it.

    built: a design with evidence that this is; its own evidence then counts before everybody's.
    """
    drawn = predicting.draw(believed, wound.mix, table, wish.edges_hz)
    edges_db = rejection_db(predicting.of_design(believed, drawn, table, wound, built))
    chance, bands = chances(edges_db.reshape(len(edges_db), -1, 2).min(axis=2), wish)
    limited = (
        each if each.chance >= LIKELY else replace(each, limit=limit_of(believed, table, wound, band))
        for each, band in zip(bands, wish.bands, strict=True)
    )
    return chance, tuple(limited)


def limit_of(believed: Learned, table: Permeability, wound: Wound, band: Band) -> Limit:
    """Whether one more turn would raise the worse edge of a band or lower it."""
    edges_hz = np.array([band.start_hz, band.stop_hz])
    mean, _ = believed.of(wound.mix)
    log_mu = winding_terms.table_log_mu(table, edges_hz) + learned.correction(mean, edges_hz)
    at = winding_terms.terms(edges_hz, log_mu, float(learned.log_stray_f(mean, wound)), wound)
    by_turns = 2 * at.by_mu + mean[LAW.index("turns") - len(LAW)] * at.by_stray
    rises = (DB * at.z_ohm / (at.z_ohm + TWICE_Z0_OHM) * by_turns).real
    return "inductance" if rises[int(np.argmin(rejection_db(at.z_ohm)))] > 0 else "resonance"


def same(first: Wound, other: Wound) -> bool:
    """Whether two windings are one recipe as far as the model sees it."""
    sizes = abs(first.factor_m / other.factor_m - 1) < 0.01 and abs(first.turn_mm / other.turn_mm - 1) < 0.01
    wires = {first.wire_mm, other.wire_mm}
    alike = None in wires or abs((first.wire_mm or 1) / (other.wire_mm or 1) - 1) < 0.1
    return sizes and alike and _name(first) == _name(other)


class Built:
    """Designs with evidence, to be found by their winding without looking at each of thousands."""

    def __init__(self, designs: Mapping[str, Wound]) -> None:
        self._by_name: dict[tuple[object, ...], list[tuple[str, Wound]]] = {}
        for key, wound in designs.items():
            self._by_name.setdefault(_name(wound), []).append((key, wound))

    def key_of(self, wound: Wound) -> str | None:
        """The key of the first design that is this winding; None where none is."""
        alike = self._by_name.get(_name(wound), [])
        return next((key for key, other in alike if same(wound, other)), None)


def _name(wound: Wound) -> tuple[object, ...]:
    return wound.mix, wound.style, wound.turns, wound.split, wound.lines
