"""Computes what a pooled release says: verdicts and curves of designs, usual spreads, offsets of groups.

Usual spreads and offsets rest on many designs. They are made again only when enough persons joined: of a
group's new pseudonyms in several designs all may be one person, so the most in any one design count.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from measurements.disclosure import pooled_rule
from measurements.disclosure.pooled_records import unpack_curve
from measurements.disclosure.pooled_rule import PooledState, get_group
from measurements.disclosure.votes import Vote
from measurements.services.pooling.keeper_ledger import DesignKey, DesignLedger, KeptVote
from measurements.verdict import group_offsets
from measurements.verdict.group_offsets import GroupOffsets
from measurements.verdict.metric import LOSS, REJECTION, SWR, Metric
from measurements.verdict.pooled_verdict import (
    PooledFigures,
    PooledVerdict,
    compute_weighted_quantiles,
    judge_pooled,
)
from measurements.verdict.usual_spread import BandFigures, estimate_usual_spread

FloatArray = NDArray[np.float64]

METRICS: Mapping[str, Metric] = {"common_mode": REJECTION, "insertion_loss": LOSS, "load_match": SWR}
MOST_DESIGNS = 200  # enough to know a spread to some percent
MOST_VOTES = 60  # of one design, likewise


@dataclass(frozen=True)
class JudgedState:
    """A new state of one design with its votes' figures. verdicts: by band. curve: (97,), NaN where none."""

    key: DesignKey
    state: PooledState
    verdicts: Mapping[str, PooledVerdict]
    curve: FloatArray


def list_state_votes(ledger: DesignLedger, state: PooledState) -> list[KeptVote]:
    """List the records behind a state, as far as they were not withdrawn since."""
    return [each for each in ledger.votes if each.vote in state.votes]


def judge_states(
    states: Mapping[DesignKey, PooledState],
    ledgers: Mapping[DesignKey, DesignLedger],
    core: Mapping[str, frozenset[str]],
    limits: Mapping[str, float],
    spreads: Mapping[str, float | None],
) -> list[JudgedState]:
    """Judge new states on every band of their kind's core."""
    votes = {key: list_state_votes(ledgers[key], state) for key, state in states.items()}
    verdicts: dict[DesignKey, dict[str, PooledVerdict]] = defaultdict(dict)
    for kind in sorted({key[1] for key in states}):
        keys = [key for key in states if key[1] == kind]
        for band in sorted(core[kind]):
            figures = [_collect_figures(votes[key], states[key], band) for key in keys]
            judged = judge_pooled(figures, limits[kind], METRICS[kind], spreads.get(kind))
            for key, verdict in zip(keys, judged, strict=True):
                verdicts[key][band] = verdict
    return [
        JudgedState(key, state, verdicts[key], _compute_curve(votes[key], state, key[1]))
        for key, state in states.items()
    ]


def _collect_figures(votes: Sequence[KeptVote], state: PooledState, band: str) -> PooledFigures:
    return PooledFigures(
        np.array([each.bands[band] for each in votes], dtype=np.float64),
        [each.vote.contributor for each in votes],
        [get_group(each.vote) for each in votes],
        state.weights,
    )


def _compute_curve(votes: Sequence[KeptVote], state: PooledState, kind: str) -> FloatArray:
    """Compute the weighted median curve, where every vote has a value."""
    curves = np.array([unpack_curve(each.curve, kind) for each in votes])
    weight = PooledFigures(
        curves[:, 0],
        [each.vote.contributor for each in votes],
        [get_group(each.vote) for each in votes],
        state.weights,
    ).weigh_devices()
    whole = np.isfinite(curves).all(axis=0)
    median = np.full(curves.shape[1], np.nan)
    for column in np.flatnonzero(whole):
        median[column] = compute_weighted_quantiles(curves[:, column], weight, (0.5,))[0]
    return median


def estimate_spread(
    kind: str,
    states: Mapping[DesignKey, PooledState],
    ledgers: Mapping[DesignKey, DesignLedger],
    core: frozenset[str],
) -> float | None:
    """Estimate how far builds of a design usually spread in this pool, in units of the metric."""
    chosen = [key for key in sorted(states) if key[1] == kind][:MOST_DESIGNS]
    return estimate_usual_spread(
        [_weigh_band(ledgers[key], states[key], band, kind) for band in sorted(core)] for key in chosen
    )


def _weigh_band(ledger: DesignLedger, state: PooledState, band: str, kind: str) -> BandFigures:
    # pseudonyms are random, so the first of them are a fair sample
    votes = sorted(list_state_votes(ledger, state), key=lambda each: each.vote.contributor.partition(":")[2])
    figures = _collect_figures(votes[:MOST_VOTES], state, band)
    return METRICS[kind].convert_to_units(figures.worst), figures.weigh_devices()


def may_learn_again(before: Iterable[PooledState], now: Iterable[PooledState], min_joiners: int) -> bool:
    """Say whether enough persons joined what is learned over all designs since it was last learned."""
    known = {vote for state in before for vote in state.votes}
    persons = {vote.contributor for vote in known}
    joining: dict[str, int] = defaultdict(int)
    for state in now:
        fresh: dict[str, set[str]] = defaultdict(set)
        for vote in state.votes:
            if vote.contributor not in persons:
                fresh[get_group(vote)].add(vote.contributor)
        for group, own in fresh.items():
            joining[group] = max(joining[group], len(own))
    return pooled_rule.are_enough_joiners(joining, min_joiners)


def estimate_group_offsets(
    kind: str,
    states: Mapping[DesignKey, PooledState],
    ledgers: Mapping[DesignKey, DesignLedger],
    band: str,
) -> tuple[list[str], GroupOffsets | None]:
    """Estimate how far each group reads from the others on a band: groups, and offsets in units.

    One figure for each person of a design: the mean of the person's devices.
    """
    rows: list[tuple[float, int, str]] = []
    for place, key in enumerate(key for key in sorted(states) if key[1] == kind):
        persons: dict[str, list[float]] = defaultdict(list)
        groups: dict[str, str] = {}
        for each in list_state_votes(ledgers[key], states[key]):
            persons[each.vote.contributor].append(each.bands.get(band, np.nan))
            groups[each.vote.contributor] = get_group(each.vote)
        rows += [(float(np.mean(own)), place, groups[who]) for who, own in persons.items()]
    if not rows:
        return [], None
    names = sorted({group for _, _, group in rows})
    value = np.array([figure for figure, _, _ in rows]) / METRICS[kind].unit
    design = np.array([place for _, place, _ in rows])
    number = {name: index for index, name in enumerate(names)}
    group = np.array([number[name] for _, _, name in rows])
    return names, group_offsets.estimate_offsets(value, design, group, len(names))


def list_offset_rows(kind: str, band: str, names: Sequence[str], found: GroupOffsets) -> list[dict[str, Any]]:
    """List what the keeper tells each group, in the unit of the figure and steps of half a unit of the model.

    Nothing for a group that shares too few figures with others.
    """
    unit = METRICS[kind].unit
    certain = found.is_certain()
    return [
        {
            "group": name,
            "kind": kind,
            "band": band,
            "offset": _round_half(found.offset[index]) * unit,
            "low": _round_half(found.offset[index] - 1.96 * found.deviation[index]) * unit,
            "high": _round_half(found.offset[index] + 1.96 * found.deviation[index]) * unit,
            "certain": bool(certain[index]),
        }
        for index, name in enumerate(names)
        if found.shared[index] >= group_offsets.LEAST_SHARED and np.isfinite(found.deviation[index])
    ]


def _round_half(units: float) -> float:
    return round(float(units) * 2) / 2


def list_votes_as_rows(votes: Iterable[Vote]) -> list[list[str]]:
    """List votes as a state stores them: group, person, device, vote."""
    rows = []
    for vote in votes:
        group = get_group(vote)
        rows.append([group, *(name.partition(":")[2] for name in (vote.contributor, vote.device, vote.test))])
    return sorted(rows)
