"""Which votes this group sends to its pool, and under which pseudonyms.

A vote gets its pseudonyms when it is first sent and keeps them. They are random, and of one design alone.
"""

from __future__ import annotations

import secrets
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date
from typing import Any

import numpy as np
from django.db.models.functions import Coalesce

from measurements.disclosure import pooled_records, published_figures
from measurements.disclosure.pooled_records import Pseudonyms
from measurements.disclosure.pooled_sending import choose_sending
from measurements.disclosure.vote_sets import CORE
from measurements.disclosure.votes import Candidate, Vote
from measurements.models import Contributor, Design, Result, SentVote, group_settings
from measurements.services.devices.contributors import build_person_key
from measurements.services.releases import design_decisions
from measurements.services.releases.published_ledger import PublishedLedger
from measurements.services.tests.results import CURVE_DTYPE
from measurements.verdict.judged_kinds import COMMON_MODE

BATCH = 500


@dataclass(frozen=True)
class ChosenVotes:
    """What leaves of one design. alone: every set that the group published of it, oldest first."""

    design: int
    kind: str
    votes: frozenset[Vote]
    alone: tuple[frozenset[Vote], ...]


def list_persons_in_pool() -> frozenset[str]:
    """List the persons, by their keys of the ledger, whose account chose the pool."""
    chosen = Contributor.objects.filter(member__in_pool=True, member__is_active=True)
    return frozenset(chosen.annotate(person_key=build_person_key()).values_list("person_key", flat=True))


def choose_all(ledger: PublishedLedger) -> list[ChosenVotes]:
    """Choose the votes of every design and kind, by the rule of `disclosure.pooled_sending`."""
    merged = design_decisions.get_merged_designs()
    alone: dict[tuple[int, str], list[frozenset[Vote]]] = defaultdict(list)
    published: dict[tuple[int, str], frozenset[Vote]] = {}
    for cell in ledger.cells:
        key = (merged.get(cell.design, cell.design), cell.kind)
        alone[key].append(cell.votes)
        if cell.last is None and cell.scope == CORE:
            published[key] = cell.votes
    taking_part, cap = list_persons_in_pool(), group_settings.get_release_thresholds().votes_per_contributor
    return [
        ChosenVotes(
            *key,
            choose_sending(alone[key], published.get(key), own, taking_part, cap),
            tuple(alone[key]),
        )
        for kind in published_figures.KIND_RULES
        for key, own in sorted(_list_candidates(kind).items())
    ]


def _list_candidates(kind: str) -> dict[tuple[int, str], list[Candidate]]:
    """List every test of a kind that could vote now, by design; none at another ratio than its design's."""
    rows = design_decisions.query_voting_tests(kind).values_list(
        Coalesce("test__device__design__merged_into", "test__device__design"),
        "published__ratio",
        "person",
        "test__device__key",
        "test__key",
        "test__measured_on",
        "test__recorded_at",
    )
    ratios = dict(Design.objects.values_list("pk", "ratio"))
    found: dict[tuple[int, str], list[Candidate]] = defaultdict(list)
    for design, ratio, *fields in rows.iterator():
        if ratio in (None, ratios[design]):
            found[design, kind].append(Candidate(*fields))
    return found


def name_votes(chosen: Iterable[ChosenVotes]) -> dict[tuple[int, str, str], Pseudonyms]:
    """Give each chosen vote its pseudonyms, made where it is new; by design, kind and test.

    Marks which votes are in the present sending. Call inside a transaction.
    """
    names: dict[tuple[int, str, str], Pseudonyms] = {}
    persons: dict[tuple[int, str], str] = {}
    devices: dict[tuple[int, str], str] = {}
    for row in SentVote.objects.order_by("pk").iterator():
        person = persons.setdefault((row.design_id, row.contributor_key), row.person)
        device = devices.setdefault((row.design_id, row.device_key), row.device)
        names[row.design_id, row.kind, row.test_key] = Pseudonyms(person, device, row.vote)
    standing: set[str] = set()
    fresh = []
    for each in chosen:
        for vote in sorted(each.votes, key=lambda vote: vote.test):
            key = (each.design, each.kind, vote.test)
            if key not in names:
                person = persons.setdefault((each.design, vote.contributor), _invent_name())
                device = devices.setdefault((each.design, vote.device), _invent_name())
                names[key] = Pseudonyms(person, device, _invent_name())
                fresh.append(_build_row(each, vote, names[key]))
            standing.add(names[key].vote)
    SentVote.objects.bulk_create(fresh, batch_size=BATCH)
    gone = SentVote.objects.filter(standing=True).values_list("vote", flat=True)
    _mark([vote for vote in gone if vote not in standing], standing=False)
    back = SentVote.objects.filter(standing=False).values_list("vote", flat=True)
    _mark([vote for vote in back if vote in standing], standing=True)
    return names


def _invent_name() -> str:
    return secrets.token_hex(16)


def _build_row(each: ChosenVotes, vote: Vote, names: Pseudonyms) -> SentVote:
    return SentVote(
        design_id=each.design,
        kind=each.kind,
        contributor_key=vote.contributor,
        device_key=vote.device,
        test_key=vote.test,
        person=names.person,
        device=names.device,
        vote=names.vote,
    )


def _mark(votes: Sequence[str], *, standing: bool) -> None:
    for start in range(0, len(votes), BATCH):
        SentVote.objects.filter(vote__in=votes[start : start + BATCH]).update(standing=standing)


def build_records(
    chosen: Sequence[ChosenVotes], names: Mapping[tuple[int, str, str], Pseudonyms]
) -> list[dict[str, Any]]:
    """Build the records of all chosen votes; of a published set all or none."""
    figures = _read_figures({vote.test: each.kind for each in chosen for vote in each.votes})
    hashes = dict(
        Design.objects.filter(pk__in={each.design for each in chosen}).values_list("pk", "recipe_sha256")
    )
    records = []
    for each in chosen:
        own = [
            pooled_records.build_record(
                names[each.design, each.kind, test],
                recipe_sha256=hashes[each.design],
                kind=each.kind,
                worst=figures[test].worst,
                uncertainty=figures[test].uncertainty,
                curve=figures[test].curve,
                measured_on=figures[test].measured_on,
            )
            for test in sorted(vote.test for vote in each.votes)
            if test in figures
        ]
        made = [record for record in own if record is not None]
        if not each.alone or len(made) == len(each.votes):
            records += made
    # pseudonyms are random, so this order tells nothing
    return sorted(records, key=lambda record: record["vote"])


@dataclass(frozen=True)
class _Figures:
    worst: dict[str, float]
    uncertainty: dict[str, float | None]
    curve: bytes
    measured_on: date


def _read_figures(kinds: Mapping[str, str]) -> dict[str, _Figures]:
    """Read the figures of tests, each of its kind."""
    found: dict[str, _Figures] = {}
    tests = list(kinds)
    for start in range(0, len(tests), BATCH):
        rows = Result.objects.filter(current=True, test__key__in=tests[start : start + BATCH])
        columns = ("test__key", "figures", "evidence_curve", "test__measured_on")
        for test, figures, curve, day in rows.values_list(*columns).iterator():
            rule = published_figures.KIND_RULES[kinds[test]]
            worst = next(iter(rule.needed))
            bands = published_figures.extract_band_figures(figures)
            found[test] = _Figures(
                {band: own[worst] for band, own in bands.items()},
                {row["band"]: (row.get("uncertainty") or {}).get(rule.metric) for row in figures["bands"]},
                _pack_rejection(bytes(curve)) if kinds[test] == COMMON_MODE else b"",
                day,
            )
    return found


def _pack_rejection(curve: bytes) -> bytes:
    """Pack the rejection in a 50-ohm system of Zcm on the fixed grid: 20 log10 |1 + Z/100| (CISPR 17)."""
    if not curve:
        return b""
    z_ohm = np.frombuffer(curve, CURVE_DTYPE).astype(np.complex128)
    with np.errstate(divide="ignore", invalid="ignore"):
        rejection_db = 20 * np.log10(np.abs(1 + z_ohm / 100))
    return pooled_records.pack_curve(rejection_db, COMMON_MODE)
