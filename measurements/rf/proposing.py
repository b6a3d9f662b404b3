"""Which core and how many turns: every core on hand times every number of turns that fits its bore, ranked.

Vectorised over all candidates of a mix: C candidates, S draws, F frequencies. The draws are those of
`predicting`; the best of this screening are judged again with all of them.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import replace

import numpy as np

from . import predicting, winding_terms
from .design_evidence import TWICE_Z0_OHM
from .ferrite import Permeability
from .learned import Learned
from .predicting import Drawn
from .proposal import Built, CoreOnHand, Proposal, Wish, chances, judged, turns_that_fit, wound_on
from .sweep import Floats
from .winding_terms import LAW
from .wound import BEADS, Wound

SCREENING_DRAWS = 64
ALIKE = 0.03  # chances that differ by no more are the same: draws tell no finer
AT_ONCE = 100  # candidates at a time: memory does not grow with the drawer
Tried = tuple[CoreOnHand, int, Wound]


def search(
    believed: Learned,
    tables: Mapping[str, Permeability],
    cores: Sequence[CoreOnHand],
    wish: Wish,
    most: int = 12,
) -> list[Proposal]:
    """The best proposals, one for each core and stack, the likeliest first.

    Passed over: mixes without a table or whose table ends short of a band, and cores that no turn fits.
    """
    found: list[Proposal] = []
    for mix in sorted({core.mix for core in cores} & set(believed.mixes)):
        if tables[mix].covers(wish.edges_hz):
            drawn = predicting.draw(believed, mix, tables[mix], wish.edges_hz, SCREENING_DRAWS)
            found += _of_mix(drawn, [core for core in cores if core.mix == mix], wish)
    known = Built({key: own.wound for key, own in believed.designs.items()})
    best = [_again(believed, tables, each, wish, known) for each in sorted(found, key=_rank)[:most]]
    return sorted(best, key=_rank)


def _again(
    believed: Learned,
    tables: Mapping[str, Permeability],
    each: Proposal,
    wish: Wish,
    known: Built,
) -> Proposal:
    built = known.key_of(each.wound)
    chance, bands = judged(believed, tables[each.core.mix], each.wound, wish, built)
    return replace(each, chance=chance, bands=bands, built=built)


def _of_mix(drawn: Drawn, cores: Sequence[CoreOnHand], wish: Wish) -> list[Proposal]:
    """One proposal for each core and stack of a mix."""
    tried = [each for core in cores for each in _tried(core, wish)]
    if not tried:
        return []
    wounds = [wound for _, _, wound in tried]
    parts = range(0, len(tried), AT_ONCE)
    worst_db = np.concatenate([_worst_db(drawn, wounds[start : start + AT_ONCE]) for start in parts])
    by_core: dict[tuple[str, int], list[int]] = {}
    for index, (core, count, _) in enumerate(tried):
        by_core.setdefault((core.name, count), []).append(index)
    return [_best([tried[row] for row in rows], worst_db[rows], wish) for rows in by_core.values()]


def _tried(core: CoreOnHand, wish: Wish) -> list[Tried]:
    fitting = turns_that_fit(core, wish)
    most = min(fitting, 1) if wish.style == BEADS else fitting
    return [
        (core, count, wound_on(core, count, turns, wish))
        for count in wish.stacks
        for turns in range(1, most + 1)
    ]


def _worst_db(drawn: Drawn, wounds: Sequence[Wound]) -> Floats:
    """Worst-in-band rejection (C, S, B) from draws at the edges of B bands.

    In single precision, which is far finer than any draw, and twice as fast.
    """
    omega = 2 * np.pi * drawn.freq_hz
    rows = np.array([winding_terms.law_row(wound) for wound in wounds])
    shift_mu = drawn.shifts[:, 0] + drawn.shifts[:, 2]
    # admittances in units of two ports in series, and the misfit in both of them
    by_misfit = TWICE_Z0_OHM * np.exp(-drawn.misfit)
    per_henry = (by_misfit * np.exp(-drawn.log_mu - shift_mu[:, None]) / (1j * omega)).astype(np.complex64)
    per_farad = (by_misfit * 1j * omega).astype(np.complex64)
    log_stray = rows @ drawn.coefficients[:, -len(LAW) :].T + drawn.shifts[:, 1] + drawn.shifts[:, 3]
    lines = np.array([wound.lines for wound in wounds])
    henries = np.array([wound.l0_h for wound in wounds]) / lines
    farads = (lines[:, None] * np.exp(log_stray)).astype(np.float32)[:, :, None]
    total = per_henry[None] * (1 / henries).astype(np.float32)[:, None, None] + per_farad[None] * farads
    size = np.abs(1 + 1 / total)
    worst: Floats = 20 * np.log10(np.minimum(size[..., ::2], size[..., 1::2])).astype(np.float64)
    return worst


def _best(tried: Sequence[Tried], worst_db: Floats, wish: Wish) -> Proposal:
    """The turns that do best on one core; where several are as likely, those with most to spare."""
    chance = (worst_db >= wish.benchmark_db).all(axis=2).mean(axis=1)
    middle = np.median(worst_db, axis=1).min(axis=1)
    alike = np.flatnonzero(chance >= chance.max() - ALIKE).tolist()
    row = max(alike, key=lambda each: (middle[each], -each))
    core, count, wound = tried[row]
    together, bands = chances(worst_db[row], wish)
    turns = [tried[each][2].turns for each in alike] if together > 0 else [wound.turns]
    return Proposal(core, count, wound, together, bands, (min(turns), max(turns)))


def _rank(proposal: Proposal) -> tuple[float, float, float]:
    """Likeliest first, in steps of what draws can tell; then fewer cores, then most to spare."""
    return (-round(proposal.chance / ALIKE), proposal.count, -proposal.median_db)
