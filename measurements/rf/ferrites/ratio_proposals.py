"""Which core, how many, how many turns, and which capacitor for a ratio device: every choice on hand, ranked.

A first look takes the middle device alone, at the edges and the centre of each band. The best are judged
with all
draws. A proposal's turns are those of the unbalanced side; the far side's follow from the ratio.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from fractions import Fraction

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.bands import Band
from measurements.rf.ferrites import ratio_prediction
from measurements.rf.ferrites.ferrite_cores import Permeability
from measurements.rf.ferrites.learned_windings import LearnedWindings
from measurements.rf.ferrites.ratio_prediction import LOSS_LIMIT_DB, SWR_LIMIT, RatioBand
from measurements.rf.ferrites.ratio_windings import FILAR_STYLES, Principle, RatioWinding
from measurements.rf.ferrites.winding_proposals import UNKNOWN_WIRE_MM, AvailableCore
from measurements.rf.sweeps.sweep import Floats

MOST_NEAR_TURNS, MOST_FAR_TURNS = 20, 40
CAPACITORS_F = (0.0, 47e-12, 68e-12, 100e-12, 150e-12, 220e-12)  # of the E6 series, for the unbalanced side
COARSE_TURNS = (1, 2, 3, 4, 5, 7, 10, 13, 17, 20)
KEPT_FACTOR = 3  # so many times the wanted proposals are tried with capacitors
JUDGED_FACTOR = 2  # so many times the wanted proposals are judged with all draws


@dataclass(frozen=True)
class RatioGoal:
    """What is to be wound, and how it is held. stacks: how many rings on each other may be tried.

    capacitors_f: which may be tried across the unbalanced side, 0 for none.
    """

    bands: tuple[Band, ...]
    principle: Principle
    ratio: Fraction
    style: str
    wire_mm: float | None
    stacks: tuple[int, ...] = (1, 2)
    capacitors_f: tuple[float, ...] = (0.0,)
    loss_limit_db: float = LOSS_LIMIT_DB
    swr_limit: float = SWR_LIMIT


@dataclass(frozen=True)
class RatioProposal:
    """One core, its stack, turns and capacitor, with what it promises. worst: see `measure_excess`."""

    core: AvailableCore
    wound: RatioWinding
    bands: tuple[RatioBand, ...]
    worst: float

    @property
    def chance(self) -> float:
        """Return the smallest chance among the bands: no better than all of them together."""
        return min(0.0 if band.chance is None else band.chance for band in self.bands)


def count_fitting_near_turns(core: AvailableCore, goal: RatioGoal) -> int:
    """Count the most near-side turns whose wires lie in one layer along the bore, at most 20."""
    wire_mm = UNKNOWN_WIRE_MM if goal.wire_mm is None else goal.wire_mm
    ring_mm = core.size_mm[1] - wire_mm
    if ring_mm < wire_mm:
        return 0
    layer = math.floor(math.pi / math.asin(wire_mm / ring_mm) + 1e-9)
    wires = 1 if goal.style == "coax" else 2
    per_near = wires if goal.principle == "current" else math.sqrt(goal.ratio)
    return min(
        math.floor(layer / per_near), MOST_NEAR_TURNS, math.floor(MOST_FAR_TURNS / math.sqrt(goal.ratio))
    )


def wind_ratio(
    core: AvailableCore, stacked: int, turns: int, capacitor_f: float, goal: RatioGoal
) -> RatioWinding:
    """Build the winding of a goal on so many of this core."""
    return RatioWinding(
        goal.principle,
        goal.ratio,
        core.mix,
        core.size_mm,
        stacked,
        turns,
        goal.style,
        goal.wire_mm,
        capacitor_f,
    )


def measure_excess(loss_db: Floats, swr: Floats, goal: RatioGoal) -> float:
    """Measure the worst of loss and SWR in units of their limits: up to 1 both hold."""
    return max(float(loss_db.max()) / goal.loss_limit_db, (float(swr.max()) - 1) / (goal.swr_limit - 1))


def propose_ratio_windings(
    believed: LearnedWindings,
    tables: Mapping[str, Permeability],
    cores: Sequence[AvailableCore],
    goal: RatioGoal,
    most: int = 8,
) -> list[RatioProposal]:
    """Propose the best windings, one for each core and stack, the likeliest first.

    Passed over: mixes without a table or whose table ends short of a band, cores that no turn fits, and
    windings
    whose wire is too long for the model on one of the bands.
    """
    freq_hz = np.concatenate([[band.start_hz, band.centre_hz, band.stop_hz] for band in goal.bands])
    known = set(tables) & set(believed.mixes)
    within = [core for core in cores if core.mix in known and tables[core.mix].covers(freq_hz)]
    found: list[tuple[float, AvailableCore, RatioWinding]] = []
    for core in within:
        for stacked in goal.stacks:
            best = _find_turns(believed, tables[core.mix], core, stacked, goal, freq_hz)
            if best is not None:
                found.append((best[0], core, best[1]))
    found.sort(key=lambda row: row[0])
    kept = [
        (*_find_capacitor(believed, tables[core.mix], core, (worst, wound), goal, freq_hz), core)
        for worst, core, wound in found[: KEPT_FACTOR * most]
    ]
    kept.sort(key=lambda row: row[0])
    judged = [_judge(believed, tables, row, goal) for row in kept[: JUDGED_FACTOR * most]]
    return sorted(judged, key=lambda each: (-round(each.chance, 1), each.worst))[:most]


def _judge(
    believed: LearnedWindings,
    tables: Mapping[str, Permeability],
    row: tuple[float, RatioWinding, AvailableCore],
    goal: RatioGoal,
) -> RatioProposal:
    worst, wound, core = row
    bands = ratio_prediction.predict_bands(
        believed,
        tables[core.mix],
        wound,
        goal.bands,
        loss_limit_db=goal.loss_limit_db,
        swr_limit=goal.swr_limit,
    )
    return RatioProposal(core, wound, bands, worst)


def _find_turns(
    believed: LearnedWindings,
    table: Permeability,
    core: AvailableCore,
    stacked: int,
    goal: RatioGoal,
    freq_hz: Floats,
) -> tuple[float, RatioWinding] | None:
    """Find turns whose middle device does best with the first capacitor; None beyond the model.

    More turns help the low bands and hurt the high ones. A coarse look finds where the best lie.
    """
    fitting = count_fitting_near_turns(core, goal)

    def weigh(turns: int) -> tuple[float, RatioWinding] | None:
        wound = wind_ratio(core, stacked, turns, goal.capacitors_f[0], goal)
        return _weigh(believed, table, wound, goal, freq_hz)

    best = _pick([weigh(turns) for turns in COARSE_TURNS if turns <= fitting])
    if best is None:
        return None
    about = best[1].near_turns
    return _pick([best, *(weigh(turns) for turns in range(max(about - 1, 1), min(about + 2, fitting) + 1))])


def _find_capacitor(
    believed: LearnedWindings,
    table: Permeability,
    core: AvailableCore,
    best: tuple[float, RatioWinding],
    goal: RatioGoal,
    freq_hz: Floats,
) -> tuple[float, RatioWinding]:
    """Find the capacitor that helps most, with a turn more or less where it lets one."""
    tried: list[tuple[float, RatioWinding] | None] = [best]
    fitting = count_fitting_near_turns(core, goal)
    for capacitor_f in goal.capacitors_f[1:]:
        for turns in (best[1].near_turns - 1, best[1].near_turns, best[1].near_turns + 1):
            if 1 <= turns <= fitting:
                wound = wind_ratio(core, best[1].stacked, turns, capacitor_f, goal)
                tried.append(_weigh(believed, table, wound, goal, freq_hz))
    return _pick(tried) or best


def _weigh(
    believed: LearnedWindings, table: Permeability, wound: RatioWinding, goal: RatioGoal, freq_hz: Floats
) -> tuple[float, RatioWinding] | None:
    if not _gives_ratio(wound) or freq_hz.max() > wound.lumped_to_hz:
        return None
    figures = ratio_prediction.compute_middle_figures(believed, table, wound, freq_hz)
    return measure_excess(figures.loss_db, figures.swr, goal), wound


def _pick(tried: Sequence[tuple[float, RatioWinding] | None]) -> tuple[float, RatioWinding] | None:
    return min((each for each in tried if each is not None), key=lambda each: each[0], default=None)


def _gives_ratio(wound: RatioWinding) -> bool:
    """Say whether whole turns come within 10 % of the ratio, and wires side by side give it exactly."""
    near = abs(wound.wound_ratio / float(wound.ratio) - 1) <= 0.1
    return near and (wound.principle == "current" or wound.style not in FILAR_STYLES or wound.filar > 0)


def check_style(goal: RatioGoal) -> None:
    """Refuse a style that cannot give the ratio. Raises BenchnightError `ratio.winding`."""
    wound = RatioWinding(goal.principle, goal.ratio, "43", (61.0, 35.55, 12.7), 1, 4, goal.style)
    wires = FILAR_STYLES.get(goal.style)
    if goal.principle == "voltage" and wires and not wound.filar:
        raise BenchnightError(
            "ratio.winding",
            f"{wires} equal wires side by side give {wires**2}:1. Choose a single wire for another ratio.",
            field="style",
        )
