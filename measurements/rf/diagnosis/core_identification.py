"""Which mix is this core? The one posterior with every tabled mix as a hypothesis, and what would decide.

A winding of so many turns on a core of this size, measured or not, with a capacitance beside it. Where the
size is measured, each mix is also weighed as `misdescribed`: the right material, and turns or size that are
not as told. No mix is named by such a fit. What no table knows keeps its share, so no mix is ever certain.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np

from measurements.errors import BenchnightError
from measurements.rf.diagnosis import change_posterior
from measurements.rf.diagnosis.change_posterior import (
    NAMED_FROM,
    ChangePosterior,
    Hypothesis,
    WeighedHypothesis,
    thin_sweep,
)
from measurements.rf.diagnosis.winding_references import CORE_TOLERANCE
from measurements.rf.ferrites import winding_terms
from measurements.rf.ferrites.ferrite_cores import MU0_H_PER_M, Permeability
from measurements.rf.sweeps.sweep import Complexes, Floats

# Ae/le of cores in use, natural logarithm of metres: from small beads to large stacks (own estimate).
USUAL_FACTOR = (math.log(1.2e-3), 1.3)
USUAL_STRAY_F, STRAY_SPREAD = 1.5e-12, 1.2
MISDESCRIBED_SPREAD = 0.8  # of the level: half and double are within one of it
AS_TOLD_PRIOR, MISDESCRIBED_PRIOR = 0.9, 0.05
TABLE_OFF = 0.05  # how far a core's curve departs from its table beyond its level (own estimate)
RULED_OUT = 0.01
DECIDING_DISTANCE = 4.0  # standard deviations that settle it
FEWEST_POINTS = 8
LEAST_OCTAVES = 1.0
AS_TOLD, MISDESCRIBED = "as_told", "misdescribed"

Answer = Literal["one", "cannot_tell", "none_fits"]


@dataclass(frozen=True)
class CoreFit:
    """left_over: rms of the relative difference, magnitude and phase.

    surprise: mean square of what is left, in units of what was to be expected; at most about 1 where right.
    factor_m: Ae/le that fits; stray_f: the capacitance beside it.
    """

    mix: str
    left_over: float
    surprise: float
    factor_m: float
    stray_f: float
    z_ohm: Complexes


@dataclass(frozen=True)
class MixCandidate:
    """share: of the whole posterior, with the turns and the size as told. ruled_out: below one in a hundred,
    also with turns or size not as told.
    """

    fit: CoreFit
    share: float
    ruled_out: bool


@dataclass(frozen=True)
class DecidingSweep:
    """A further sweep that would tell the two likeliest apart; apart: in standard deviations of a sweep."""

    turns: int
    from_hz: float
    to_hz: float
    apart: float


@dataclass(frozen=True)
class CoreIdentification:
    """candidates: likeliest first. other_share: none of these, or turns and size that are not as told.

    misdescribed: the mix that would fit with other turns or another size, where that is likeliest; size_off:
    the factor by which Ae/le would differ. covered: the part of the sweep that was compared, within every
    table. deciders: best first; empty where one is named.
    """

    answer: Answer
    candidates: tuple[MixCandidate, ...]
    other_share: float
    misdescribed: str | None
    size_off: float | None
    covered_from_hz: float
    covered_to_hz: float
    swept_from_hz: float
    swept_to_hz: float
    freq_hz: Floats
    z_ohm: Complexes
    deciders: tuple[DecidingSweep, ...]


def identify_mix(
    tables: Mapping[str, Permeability],
    turns: int,
    freq_hz: Floats,
    z_ohm: Complexes,
    factor_m: float | None = None,
) -> CoreIdentification:
    """Rank the mixes for `turns` on a core with this Z (F,), NaN where undefined.

    factor_m: Ae/le of the core, None where nobody measured it. Only frequencies that every table covers are
    compared, so that no mix is judged by more points than another. Raises BenchnightError
    `identify.turns`, or `identify.range` where less than an octave is left.
    """
    if turns < 1:
        raise BenchnightError("identify.turns", "Say how many turns are on the core.", field="turns")
    freq, values = _select_covered(tables, freq_hz, z_ohm)
    posterior = _weigh_mixes(tables, turns, freq, values, factor_m)
    candidates = _rank_mixes(posterior, factor_m)
    answer = _choose_answer(posterior, candidates)
    likeliest = posterior.hypotheses[0]
    misdescribed = likeliest if likeliest.given.code == MISDESCRIBED else None
    return CoreIdentification(
        answer,
        candidates,
        1 - sum(each.share for each in candidates),
        None if misdescribed is None else misdescribed.given.mix,
        None if misdescribed is None else misdescribed.level,
        float(freq[0]),
        float(freq[-1]),
        float(freq_hz[0]),
        float(freq_hz[-1]),
        freq,
        values,
        _list_deciders(tables, turns, candidates) if answer == "cannot_tell" else (),
    )


def _select_covered(
    tables: Mapping[str, Permeability], freq_hz: Floats, z_ohm: Complexes
) -> tuple[Floats, Complexes]:
    """Select at most 40 points within every table. Raises BenchnightError `identify.range`."""
    low = float(max(table.freq_hz[0] for table in tables.values()))
    high = float(min(table.freq_hz[-1] for table in tables.values()))
    inside = (freq_hz >= low) & (freq_hz <= high)
    freq, values = thin_sweep(freq_hz[inside], z_ohm[inside])
    if freq.size < FEWEST_POINTS or math.log2(freq[-1] / freq[0]) < LEAST_OCTAVES:
        raise BenchnightError(
            "identify.range",
            f"The tables reach from {low / 1e6:.3g} to {high / 1e6:.3g} MHz: sweep at least an octave "
            "of that, with eight points or more.",
            field="sweep",
        )
    return freq, values


def _weigh_mixes(
    tables: Mapping[str, Permeability], turns: int, freq_hz: Floats, z_ohm: Complexes, factor_m: float | None
) -> ChangePosterior:
    """Weigh every mix as told and, where the core was measured, as not told; the capacitance from several
    starts."""
    middle, spread = USUAL_FACTOR if factor_m is None else (math.log(factor_m), CORE_TOLERANCE)
    inductance_h = MU0_H_PER_M * turns**2 * math.exp(middle)
    found = []
    for mix, table in tables.items():
        inductor_ohm = 2j * np.pi * freq_hz * inductance_h * table.at(freq_hz)
        core_s: Complexes = np.asarray(1 / inductor_ohm, dtype=np.complex128)
        prior = AS_TOLD_PRIOR / len(tables)
        told = Hypothesis(
            AS_TOLD, f"mix {mix}", prior, core_s, USUAL_STRAY_F, spread, STRAY_SPREAD, TABLE_OFF, mix=mix
        )
        found.append(told)
        if factor_m is not None:
            what, prior = f"mix {mix} with other turns or another size", MISDESCRIBED_PRIOR / len(tables)
            found.append(
                replace(told, code=MISDESCRIBED, what=what, prior=prior, level_spread=MISDESCRIBED_SPREAD)
            )
    return change_posterior.weigh_hypotheses(found, freq_hz, z_ohm)


def _rank_mixes(posterior: ChangePosterior, factor_m: float | None) -> tuple[MixCandidate, ...]:
    by_mix: dict[str | None, float] = {}
    for each in posterior.hypotheses:
        by_mix[each.given.mix] = by_mix.get(each.given.mix, 0.0) + each.share
    return tuple(
        MixCandidate(_build_fit(each, factor_m), each.share, by_mix[each.given.mix] < RULED_OUT)
        for each in posterior.hypotheses
        if each.given.code == AS_TOLD
    )


def _build_fit(each: WeighedHypothesis, factor_m: float | None) -> CoreFit:
    usual_m = math.exp(USUAL_FACTOR[0]) if factor_m is None else factor_m
    return CoreFit(
        each.given.mix or "", each.left_over, each.surprise, usual_m * each.level, each.stray_f, each.z_ohm
    )


def _choose_answer(posterior: ChangePosterior, candidates: Sequence[MixCandidate]) -> Answer:
    if posterior.hypotheses[0].given.code != AS_TOLD:
        return "none_fits"
    return "one" if candidates[0].share >= NAMED_FROM else "cannot_tell"


def _list_deciders(
    tables: Mapping[str, Permeability], turns: int, candidates: Sequence[MixCandidate]
) -> tuple[DecidingSweep, ...]:
    """List other turns and ranges that set the two likeliest apart most, each with its core and wire as
    fitted."""
    first, second = candidates[0].fit, candidates[1].fit
    ranges = ((0.1e6, 10e6), (0.3e6, 30e6), (1e6, 30e6), (1e6, 90e6))
    asked = sorted({max(turns // 3, 1), max(turns // 2, 1), turns, turns * 2})
    found = []
    for count in asked:
        for from_hz, to_hz in ranges:
            freq = np.geomspace(from_hz, to_hz, change_posterior.FITTED_POINTS)
            if tables[first.mix].covers(freq) and tables[second.mix].covers(freq):
                both = {mix: tables[mix] for mix in (first.mix, second.mix)}
                apart = _measure_distance(both, first, turns, count, freq)
                found.append(DecidingSweep(count, from_hz, to_hz, apart))
    # one that settles it with the turns that are on comes first: nothing has to be rewound
    found.sort(key=lambda each: (each.apart < DECIDING_DISTANCE, each.turns != turns, -each.apart))
    return tuple(found[:3])


def _measure_distance(
    both: Mapping[str, Permeability], first: CoreFit, turns: int, count: int, freq_hz: Floats
) -> float:
    """Measure how far the second mix, fitted to what the first would show, stays from it: standard
    deviations."""
    omega = 2 * np.pi * freq_hz
    stray_f = first.stray_f * (count / turns) ** 0.5
    inductance = MU0_H_PER_M * count**2 * first.factor_m
    log_mu = winding_terms.table_log_mu(both[first.mix], freq_hz)
    would_show = 1 / (np.exp(-log_mu) / (1j * omega * inductance) + 1j * omega * stray_f)
    weighed = _weigh_mixes(both, count, freq_hz, would_show, first.factor_m)
    own, other = (
        next(each for each in weighed.hypotheses if each.given.code == AS_TOLD and each.given.mix == mix)
        for mix in (first.mix, *(mix for mix in both if mix != first.mix))
    )
    return math.sqrt(max(2 * math.log(max(own.share, 1e-300) / max(other.share, 1e-300)), 0.0))
