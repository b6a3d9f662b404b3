"""Reads the records and everything published of a pool as sets of votes, decides, and audits."""

from __future__ import annotations

from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any

from django.utils import timezone

from measurements.disclosure import pooled_rule, vote_sets
from measurements.disclosure.pooled_auditor import PooledSet, audit_pool
from measurements.disclosure.pooled_rule import PooledDecision, PooledPast, PooledState, name_in_pool
from measurements.disclosure.release_rule import LIFE_DAYS
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Vote
from measurements.errors import BenchnightError
from measurements.models import KeptGroup, KeptRecord, KeptRelease, KeptSet, KeptState
from measurements.rf.bands import Band

DesignKey = tuple[int, str]  # a kept design and a kind


@dataclass(frozen=True)
class KeptVote:
    """A record as a vote, with what is judged of it. curve: see `disclosure.pooled_records`."""

    vote: Vote
    bands: Mapping[str, float]
    curve: bytes


@dataclass
class DesignLedger:
    """What a pool has of one design and kind: records that stand, and everything published, in its order."""

    votes: list[KeptVote] = field(default_factory=list)
    states: list[PooledState] = field(default_factory=list)
    alone: list[frozenset[Vote]] = field(default_factory=list)
    order: list[tuple[str, frozenset[Vote], Mapping[str, float], int]] = field(default_factory=list)
    published: PooledState | None = None
    expired: bool = False


def read_ledgers() -> dict[DesignKey, DesignLedger]:
    """Read every design that has a record or a published set."""
    found: dict[DesignKey, DesignLedger] = defaultdict(DesignLedger)
    columns = ("design_id", "kind", "group_id", "person", "device", "vote", "bands", "curve")
    standing = KeptRecord.objects.filter(withdrawn=False, group__left_at=None)
    for design, kind, group, *names, bands, curve in standing.values_list(*columns).iterator():
        vote = name_in_pool(str(group), Vote(*names))
        found[design, kind].votes.append(KeptVote(vote, bands, bytes(curve)))
    _read_published(found)
    return dict(sorted(found.items()))


def _read_published(found: dict[DesignKey, DesignLedger]) -> None:
    """Read sets and states in the order of publication: a release comes after the sets that it knew."""
    after = dict(KeptRelease.objects.values_list("number", "after_set"))
    oldest = timezone.now() - timedelta(days=LIFE_DAYS)
    old = set(KeptRelease.objects.filter(made_at__lt=oldest).values_list("number", flat=True))
    events: dict[DesignKey, list[tuple[int, int, Any]]] = defaultdict(list)
    for row in KeptSet.objects.order_by("pk").iterator():
        events[row.design_id, row.kind].append((row.pk, 0, row))
    for state in KeptState.objects.order_by("first_release").iterator():
        events[state.design_id, state.kind].append((after[state.first_release], 1, state))
    for key, own in events.items():
        for _, _, row in sorted(own, key=lambda event: event[:2]):
            if isinstance(row, KeptSet):
                _add_set(found[key], row)
            else:
                _add_state(found[key], row, expired=row.first_release in old)


def _add_set(ledger: DesignLedger, row: KeptSet) -> None:
    group = str(row.group_id)
    votes = frozenset(name_in_pool(group, Vote(*names)) for names in row.votes)
    ledger.alone.append(votes)
    ledger.order.append((group, votes, {}, 0))


def _add_state(ledger: DesignLedger, row: KeptState, *, expired: bool) -> None:
    state = read_state(row)
    ledger.states.append(state)
    ledger.order.append(("", state.votes, row.weights, row.first_release))
    if row.last_release is None:
        ledger.published, ledger.expired = state, expired


def read_state(row: KeptState) -> PooledState:
    """Read a stored state."""
    votes = frozenset(name_in_pool(group, Vote(*names)) for group, *names in row.votes)
    return PooledState(votes, row.weights)


def choose_core_bands(
    ledgers: Mapping[DesignKey, DesignLedger], plan: Iterable[Band]
) -> dict[str, frozenset[str]]:
    """Choose by kind the bands that a set covers: as in a group, over the records of all."""
    votes: Counter[str] = Counter()
    valid: dict[str, Counter[str]] = defaultdict(Counter)
    for (_, kind), ledger in ledgers.items():
        votes[kind] += len(ledger.votes)
        for each in ledger.votes:
            valid[kind].update(each.bands.keys())
    bands = tuple(plan)
    return {kind: vote_sets.choose_core_bands(bands, valid[kind], votes[kind]) for kind in votes}


def decide_design(
    ledger: DesignLedger, core: frozenset[str], limits: Thresholds, aside: frozenset[str]
) -> PooledDecision:
    """Decide one design: of the votes that are valid on all core bands."""
    valid = frozenset(each.vote for each in ledger.votes if core and core <= each.bands.keys())
    past = PooledPast(ledger.states, ledger.alone, ledger.published)
    return pooled_rule.decide_pooled(past, valid, limits, aside=aside, expired=ledger.expired)


def list_groups_aside() -> frozenset[str]:
    """List the groups that the keeper set aside, as their votes name them."""
    return frozenset(str(pk) for pk in KeptGroup.objects.exclude(aside_at=None).values_list("pk", flat=True))


def check_pool(
    number: int,
    ledgers: Mapping[DesignKey, DesignLedger],
    made: Mapping[DesignKey, PooledDecision],
    min_joiners: int,
) -> None:
    """Audit what release `number` publishes, after all that was published before it.

    Raises BenchnightError `pool.audit`: call inside the transaction that makes the release.
    """
    found = audit_pool(_list_sets(number, ledgers, made), min_joiners)
    if found is not None:
        raise BenchnightError(
            "pool.audit",
            f"This pooled release is not made: {found.what} would rest on {found.joiners} new people. "
            "Nothing was changed. Report this; it is a defect.",
            kind="conflict",
        )


def _list_sets(
    number: int, ledgers: Mapping[DesignKey, DesignLedger], made: Mapping[DesignKey, PooledDecision]
) -> Iterator[PooledSet]:
    for key, ledger in ledgers.items():
        quantity = f"{key[0]} {key[1]}"
        for group, votes, weights, release in ledger.order:
            what = f"design {key[0]} in pooled release {release}"
            shares = tuple(sorted(weights.items()))
            yield PooledSet(quantity, what, votes, group=group, weights=shares, judged=False)
        decision = made[key]
        if decision.action == "replace" and decision.state is not None:
            shares = tuple(sorted(decision.state.weights.items()))
            what = f"design {key[0]} in pooled release {number}"
            yield PooledSet(quantity, what, decision.state.votes, weights=shares)
