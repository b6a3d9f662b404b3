"""Makes the next release: decides each design by the disclosure rule and stores what changed.

Tests are read here and in `release_decisions`, and nowhere else on the way to evidence; what comes out holds
no identity, and the ledger of whose votes stand behind a cell is kept apart from it.
"""

from __future__ import annotations

import hashlib
import random
from dataclasses import dataclass, replace
from typing import Any

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import published_figures
from measurements.disclosure.circles import Viewer
from measurements.disclosure.portions import portions
from measurements.disclosure.releases import Action, Decision
from measurements.disclosure.row_ids import new_salt
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.votes import Vote, contributors
from measurements.errors import BenchnightError
from measurements.ingest import (
    audit,
    bulk,
    decision_marks,
    evidence_changes,
    evidence_rows,
    learning,
    release_decisions,
    release_files,
)
from measurements.ingest.evidence_rows import Voice
from measurements.models import Cell, EvidenceSample, PublishedVote, Release, Result, group
from measurements.rf.engine import ENGINE_VERSION

BATCH = 500
DESIGNS = 50  # decided at a time


@dataclass(frozen=True)
class ReleaseMade:
    """The new release's number and how many designs took which way."""

    number: int
    replaced: int
    kept: int
    withheld: int
    empty: int


def make(*, by: Viewer | None = None, rng: random.Random | None = None, files: bool = True) -> ReleaseMade:
    """Publishes release n + 1 in one transaction.

    rng: for salts and row order; the system's own unless a test passes a seeded one.
    files: False leaves them to `release_files.complete`: ids are new in every release, so files are written
    anew as a whole, while all the rest costs what changed.
    Raises IntegrityError when another release was made meanwhile, BenchnightError `release.changed` when a
    test was withdrawn that was just to be published: make it again.
    """
    source = rng or random.SystemRandom()
    limits = group.release_thresholds()
    with transaction.atomic():
        newest = Release.objects.order_by("-number").first()
        number = newest.number + 1 if newest else 1
        changes = evidence_changes.taken(newest)
        # before there are new votes: of the million of a first release the database would know nothing yet
        release_files.take_out_withdrawn(changes)
        planned = decision_marks.plan(limits, changes)
        actions = dict(planned.settled)
        sized = ((group, len(group)) for group in planned.groups)
        # some designs at a time: their tests and states are what memory holds
        for some in portions(sized, DESIGNS):
            for design, decision in release_decisions.of_groups(some, planned.merged, number, limits).items():
                _carry_out(design, decision, number, limits, source)
                actions[design] = decision.action
        decision_marks.remember(actions, planned)
        made = _counted(number, actions)
        learning.forget()
        release = _store_release(made, _told(limits, number, actions), source)
        if files:
            release_files.store(release)
        audit.note(by=by, action="release.make", subject=str(number), replaced=made.replaced)
    return made


def _carry_out(
    design_id: int, decision: Decision, number: int, limits: Thresholds, rng: random.Random
) -> None:
    if decision.action in ("replace", "withhold"):
        Cell.objects.filter(design_id=design_id, last_release=None).update(last_release=number - 1)
    if decision.action != "replace":
        return
    voices, plan = _voices(decision.votes)
    if len(voices) != len(decision.votes):
        # what is left may be of fewer people than it takes
        raise BenchnightError(
            "release.changed",
            "A test that was to be published was withdrawn meanwhile. Make the release again.",
            kind="conflict",
        )
    built = evidence_rows.build(
        design_id=design_id,
        release=number,
        voices=voices,
        plan=plan,
        min_contributors=limits.min_contributors,
        rng=rng,
    )
    built.cell.save(force_insert=True)
    bulk.insert(EvidenceSample, evidence_rows.SAMPLE, built.samples)
    bulk.insert(
        PublishedVote,
        ("cell_id", "contributor_key", "device_key", "test_key"),
        (
            (built.cell.pk, vote.contributor, vote.device, vote.test)
            for vote in sorted(decision.votes, key=lambda vote: vote.test)
        ),
    )


def _voices(votes: frozenset[Vote]) -> tuple[list[Voice], list[str]]:
    """The votes' results without their owners, and the bands in the order of the newest one's plan.

    Contributors become numbers for this one use.
    """
    numbers = {key: index for index, key in enumerate(sorted(contributors(votes)))}
    owner = {vote.test: numbers[vote.contributor] for vote in votes}
    keys = sorted(owner)
    voices: list[Voice] = []
    newest = 0
    for start in range(0, len(keys), BATCH):
        found = Result.objects.filter(current=True, test__key__in=keys[start : start + BATCH])
        columns = ("pk", "test__key", "test__measured_on", "published", "evidence_curve")
        rows = list(found.values_list(*columns))
        made_again = _published_again(
            [pk for pk, _, _, kept, _ in rows if not published_figures.is_kept(kept)]
        )
        newest = max(newest, *(row[0] for row in rows)) if rows else newest
        voices.extend(
            Voice(owner[key], measured_on.strftime("%Y-%m"), made_again.get(pk, kept), bytes(curve))
            for pk, key, measured_on, kept, curve in rows
        )
    figures = Result.objects.filter(pk=newest).values_list("figures", flat=True).first()
    return voices, [band["band"] for band in figures["bands"]] if figures else []


def _published_again(results: list[int]) -> dict[int, dict[str, Any]]:
    """What these results publish, by row number: of an older form, or from before anything was kept."""
    figures = Result.objects.filter(pk__in=results).values_list("pk", "figures") if results else ()
    return {pk: published_figures.of_result(each) for pk, each in figures}


def _counted(number: int, decided: dict[int, Action]) -> ReleaseMade:
    actions = list(decided.values())
    return ReleaseMade(
        number,
        replaced=actions.count("replace"),
        kept=actions.count("keep"),
        withheld=actions.count("withhold"),
        empty=actions.count("empty"),
    )


def _told(limits: Thresholds, number: int, actions: dict[int, Action]) -> Thresholds:
    """The thresholds as the release states them.

    A cell that is kept may hold as many votes of one person as earlier releases allowed, and readers reckon
    from that number how many people there are at least: so it falls only once no older cell is left.
    """
    cap = limits.votes_per_contributor
    if "keep" in actions.values():
        before = Release.objects.get(number=number - 1).thresholds["votes_per_contributor"]
        cap = max(cap, int(before))
    return replace(limits, votes_per_contributor=cap)


def _store_release(made: ReleaseMade, limits: Thresholds, rng: random.Random) -> Release:
    cells = Cell.objects.filter(last_release=None).order_by("design__key")
    content = "\n".join(
        f"{key} {digest}" for key, digest in cells.values_list("design__key", "content_sha256")
    )
    return Release.objects.create(
        number=made.number,
        made_at=timezone.now(),
        engine_version=ENGINE_VERSION,
        region=group.region(),
        thresholds={
            "min_contributors": limits.min_contributors,
            "public_min_contributors": limits.public_min_contributors,
            "min_changes": limits.min_changes,
            "votes_per_contributor": limits.votes_per_contributor,
        },
        # what everybody may see: how many designs have evidence, and how many of them changed
        counts={"designs": cells.count(), "replaced": made.replaced, "kept": made.kept},
        content_sha256=hashlib.sha256(content.encode()).hexdigest(),
        salt=new_salt(rng),
    )
