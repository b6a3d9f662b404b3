"""Which mix is this core? Every table held against the sweep, ranked, and what would decide where they are
alike.
"""

from __future__ import annotations

import math
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np

from measurements.errors import BenchnightError

from . import core_fit, winding_terms
from .core_fit import CoreFit
from .ferrite import MU0_H_PER_M, Permeability
from .sweep import Complexes, Floats

CERTAIN = 0.9  # from here on one mix is named
RULED_OUT = 0.01
# Beyond it not even the best table fits: another material, or not this winding. The right mix comes to 0.2
# and in five hundred simulated cores never beyond 0.5 (`tests/rf/test_identifying.py`).
MOST_SURPRISE = 1.0
DECIDES = 4.0  # standard deviations that settle it
FEWEST_POINTS = 8
LEAST_OCTAVES = 1.0
Answer = Literal["one", "cannot_tell", "none_fits"]


@dataclass(frozen=True)
class Candidate:
    """share: of the weight of all mixes with a table. ruled_out: below one in a hundred."""

    fit: CoreFit
    share: float
    ruled_out: bool


@dataclass(frozen=True)
class Decider:
    """A further sweep that would tell the two likeliest apart; apart: in standard deviations of a sweep."""

    turns: int
    from_hz: float
    to_hz: float
    apart: float


@dataclass(frozen=True)
class Identified:
    """candidates: likeliest first. covered: the part of the sweep that was compared, within every table.

    untabled: mixes that might be it and have no table. deciders: best first; empty where one is named.
    """

    answer: Answer
    candidates: tuple[Candidate, ...]
    covered_from_hz: float
    covered_to_hz: float
    swept_from_hz: float
    swept_to_hz: float
    freq_hz: Floats
    z_ohm: Complexes
    deciders: tuple[Decider, ...]


def identify(
    tables: Mapping[str, Permeability],
    turns: int,
    freq_hz: Floats,
    z_ohm: Complexes,
    factor_m: float | None = None,
) -> Identified:
    """Ranks the mixes for `turns` on a core with this Z (F,), NaN where undefined.

    factor_m: Ae/le of the core, None where nobody measured it. Only frequencies that every table covers are
    compared, so that no mix is judged by more points than another. Raises BenchnightError
    `identify.turns`, or `identify.range` where less than an octave is left.
    """
    if turns < 1:
        raise BenchnightError("identify.turns", "Say how many turns are on the core.", field="turns")
    low = max(table.freq_hz[0] for table in tables.values())
    high = min(table.freq_hz[-1] for table in tables.values())
    freq, values = core_fit.thinned(*_within(freq_hz, z_ohm, float(low), float(high)))
    if freq.size < FEWEST_POINTS or math.log2(freq[-1] / freq[0]) < LEAST_OCTAVES:
        raise BenchnightError(
            "identify.range",
            f"The tables reach from {low / 1e6:.3g} to {high / 1e6:.3g} MHz: sweep at least an octave "
            "of that, with eight points or more.",
            field="sweep",
        )
    fits = [core_fit.fit(mix, table, turns, freq, values, factor_m) for mix, table in tables.items()]
    candidates = _ranked(fits)
    answer = _answer(candidates)
    return Identified(
        answer,
        candidates,
        float(freq[0]),
        float(freq[-1]),
        float(freq_hz[0]),
        float(freq_hz[-1]),
        freq,
        values,
        _deciders(tables, turns, candidates) if answer == "cannot_tell" else (),
    )


def _within(freq_hz: Floats, z_ohm: Complexes, low_hz: float, high_hz: float) -> tuple[Floats, Complexes]:
    inside = (freq_hz >= low_hz) & (freq_hz <= high_hz)
    return freq_hz[inside], z_ohm[inside]


def _ranked(fits: Sequence[CoreFit]) -> tuple[Candidate, ...]:
    best = max(each.weight for each in fits)
    weights = [math.exp(each.weight - best) for each in fits]
    total = sum(weights)
    made = [
        Candidate(each, weight / total, weight / total < RULED_OUT)
        for each, weight in zip(fits, weights, strict=True)
    ]
    return tuple(sorted(made, key=lambda each: -each.share))


def _answer(candidates: Sequence[Candidate]) -> Answer:
    best = candidates[0]
    if best.fit.surprise > MOST_SURPRISE:
        return "none_fits"
    return "one" if best.share >= CERTAIN else "cannot_tell"


def _deciders(
    tables: Mapping[str, Permeability], turns: int, candidates: Sequence[Candidate]
) -> tuple[Decider, ...]:
    """Other turns and ranges that set the two likeliest apart most, each with its core and wire as fitted."""
    first, second = candidates[0].fit, candidates[1].fit
    ranges = ((0.1e6, 10e6), (0.3e6, 30e6), (1e6, 30e6), (1e6, 90e6))
    asked = sorted({max(turns // 3, 1), max(turns // 2, 1), turns, turns * 2})
    found = []
    for count in asked:
        for from_hz, to_hz in ranges:
            freq = np.geomspace(from_hz, to_hz, 40)
            if tables[first.mix].covers(freq) and tables[second.mix].covers(freq):
                apart = _apart(tables, first, second, turns, count, freq)
                found.append(Decider(count, from_hz, to_hz, apart))
    # one that settles it with the turns that are on comes first: nothing has to be rewound
    found.sort(key=lambda each: (each.apart < DECIDES, each.turns != turns, -each.apart))
    return tuple(found[:3])


def _apart(
    tables: Mapping[str, Permeability],
    first: CoreFit,
    second: CoreFit,
    turns: int,
    count: int,
    freq_hz: Floats,
) -> float:
    """How far the second mix, fitted to what the first would show, stays from it: standard deviations."""
    omega = 2 * np.pi * freq_hz
    stray_f = first.stray_f * (count / turns) ** 0.5
    inductance = MU0_H_PER_M * count**2 * first.factor_m
    log_mu = winding_terms.table_log_mu(tables[first.mix], freq_hz)
    would_show = 1 / (np.exp(-log_mu) / (1j * omega * inductance) + 1j * omega * stray_f)
    other = core_fit.fit(second.mix, tables[second.mix], count, freq_hz, would_show, first.factor_m)
    own = core_fit.fit(first.mix, tables[first.mix], count, freq_hz, would_show, first.factor_m)
    return math.sqrt(max(2 * (own.weight - other.weight), 0.0))
