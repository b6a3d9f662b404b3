"""Makes the next release: decides each design by the disclosure rule and stores what changed.

It is one pass over what counts: nothing remembers what changed since the last one, so no way of writing can
pass a release by. Figures are read of designs that change only.

Tests are read here and in `design_decisions`, and nowhere else on the way to evidence; what comes out holds
no identity, and a separate ledger records the persons behind a cell.
"""

from __future__ import annotations

import hashlib
import random
from collections import defaultdict
from collections.abc import Mapping
from dataclasses import dataclass, replace
from typing import Any

import numpy as np
from django.db import transaction
from django.utils import timezone
from numpy.typing import NDArray

from measurements.disclosure import published_figures
from measurements.disclosure.release_rows import create_salt, split_into_portions
from measurements.disclosure.release_rule import CellAction
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Viewer
from measurements.disclosure.vote_sets import SetDecision
from measurements.disclosure.votes import Vote, list_contributors
from measurements.errors import BenchnightError
from measurements.models import (
    Cell,
    PublishedVote,
    Release,
    Result,
    group_facts,
    group_settings,
)
from measurements.rf.analysis import ENGINE_VERSION
from measurements.rf.evidence_grid import GRID_HZ
from measurements.services.operations import audit, use_counts
from measurements.services.reference.band_plan import get_band_plan
from measurements.services.releases import (
    design_decisions,
    evidence_rows,
    learning,
    ledger_audit,
    pools,
    published_ledger,
    release_answers,
    release_files,
    usual_spreads,
)
from measurements.services.releases.evidence_rows import AnonymousVote
from measurements.verdict.judged_kinds import COMMON_MODE, EVIDENCE_KINDS

BATCH = 500

DESIGNS = 50  # decided at a time


@dataclass(frozen=True)
class ReleaseCounts:
    """The new release's number and how many designs took which way."""

    number: int
    replaced: int
    kept: int
    withheld: int
    empty: int


def make_release(
    *, by: Viewer | None = None, rng: random.Random | None = None, files: bool = True
) -> ReleaseCounts:
    """Publish release n + 1 in one transaction.

    rng: for salts and row order; the system's own unless a test passes a seeded one.
    files: False leaves them to `release_files.store_missing_release_files`.
    Raises IntegrityError when another release was made meanwhile, BenchnightError `release.changed` when a
    test was withdrawn that was just to be published: make it again.
    """
    source = rng or random.SystemRandom()
    limits = group_settings.get_release_thresholds()
    with transaction.atomic():
        newest = Release.objects.order_by("-number").first()
        number = newest.number + 1 if newest else 1
        merged = design_decisions.get_merged_designs()
        actions: dict[tuple[str, int, str], CellAction] = {}
        core = {kind: design_decisions.get_core_bands(kind) for kind in EVIDENCE_KINDS}
        groups = design_decisions.list_design_groups(merged)
        sized = ((group, len(group)) for group in groups)
        # some designs at a time: their tests and states are what memory holds
        for some in split_into_portions(sized, DESIGNS):
            for kind, bands in core.items():
                decided = design_decisions.decide_groups(some, merged, number, limits, bands, kind)
                for key, made in decided.items():
                    _apply_decision(kind, key, made, number, limits, source)
                    actions[kind, *key] = made.decision.action
        pools.make_pools(number, published_ledger.read_ledger(number), limits, core[COMMON_MODE])
        families = release_answers.build_families(groups)
        ledger_audit.check_ledger(number, groups, limits.min_joiners, families=families.sets)
        counts = _count_actions(number, actions)
        release = _store_release(counts, _get_stated_thresholds(limits, number, actions), source)
        release_answers.store_families(release, families)
        if files:
            release_files.store_release_files(release)
        audit.record_action(by=by, action="release.make", subject=str(number), replaced=counts.replaced)
    return counts


def _apply_decision(
    kind: str,
    key: design_decisions.SetKey,
    made: SetDecision,
    number: int,
    limits: Thresholds,
    rng: random.Random,
) -> None:
    (design_id, band), decision = key, made.decision
    if decision.action in ("replace", "withhold"):
        standing = Cell.objects.filter(design_id=design_id, kind=kind, band=band, last_release=None)
        standing.update(last_release=number - 1)
    if decision.action != "replace":
        return
    voices, plan = _get_anonymous_votes(decision.votes)
    if len(voices) != len(decision.votes):
        # what is left may be of fewer people than it takes
        raise BenchnightError(
            "release.changed",
            "A test that was to be published was withdrawn meanwhile. Make the release again.",
            kind="conflict",
        )
    cell = evidence_rows.build_cell(
        design_id=design_id,
        kind=kind,
        band=band,
        release=number,
        voices=voices,
        plan=[each for each in plan if each in made.bands],
        reach=_find_reach(made.bands),
        min_contributors=limits.min_contributors,
        rng=rng,
    )
    cell.save(force_insert=True)
    evidence_rows.insert_rows(
        PublishedVote,
        ("cell_id", "contributor_key", "device_key", "test_key"),
        (
            (cell.pk, vote.contributor, vote.device, vote.test)
            for vote in sorted(decision.votes, key=lambda vote: vote.test)
        ),
    )


def _get_anonymous_votes(votes: frozenset[Vote]) -> tuple[list[AnonymousVote], list[str]]:
    """Return the votes' results without their owners, and the bands in the order of the newest one's plan.

    Contributors become numbers for this one use.
    """
    numbers = {key: index for index, key in enumerate(sorted(list_contributors(votes)))}
    owner = {vote.test: numbers[vote.contributor] for vote in votes}
    keys = sorted(owner)
    voices: list[AnonymousVote] = []
    newest = 0
    for start in range(0, len(keys), BATCH):
        found = Result.objects.filter(current=True, test__key__in=keys[start : start + BATCH])
        columns = ("pk", "test__key", "published", "evidence_curve")
        night = ("test__night", "test__night__jig")
        rows = list(found.values_list(*columns, *night))
        made_again = design_decisions.recompute_published(
            [row[0] for row in rows if not published_figures.is_current_form(row[2])]
        )
        newest = max(newest, *(row[0] for row in rows)) if rows else newest
        voices.extend(
            AnonymousVote(
                contributor=owner[key],
                jig=_name_jig(owner[key], *at_night),
                published=made_again.get(pk, kept),
                curve=bytes(curve),
            )
            for pk, key, kept, curve, *at_night in rows
        )
    figures = Result.objects.filter(pk=newest).values_list("figures", flat=True).first()
    return voices, [band["band"] for band in figures["bands"]] if figures else []


def _name_jig(owner: int, night: int | None, night_jig: str | None) -> str:
    """Name the jig of a test: that of its night, which nights may share by its name; else its owner's own."""
    if night is None:
        return f"of person {owner}"
    return (
        f"called {night_jig.strip().casefold()}" if night_jig and night_jig.strip() else f"of night {night}"
    )


def _find_reach(bands: frozenset[str]) -> NDArray[np.bool_]:
    """Find (G,) on which frequencies of the grid curves of a set are shown: those nearest to an own band.

    Near is by ratio of frequencies. A band that the set does not cover may have a set of its own, which could
    be subtracted from this one's; so a curve goes half way to it, and has a gap where it lies between own
    bands.
    """
    plan = get_band_plan(group_facts.get_region(), timezone.localdate())
    if not any(band.name in bands for band in plan):
        return np.zeros(GRID_HZ.size, dtype=np.bool_)
    away = [np.maximum(np.log(band.start_hz / GRID_HZ), np.log(GRID_HZ / band.stop_hz)) for band in plan]
    own = np.array([band.name in bands for band in plan])
    shown: NDArray[np.bool_] = own[np.argmin(away, axis=0)]
    return shown


# of a design with several sets, the first of these that one of them took
_FIRST_NAMED: tuple[CellAction, ...] = ("replace", "withhold", "keep", "empty")


def _count_actions(number: int, decided: Mapping[tuple[str, int, str], CellAction]) -> ReleaseCounts:
    """Count designs by what became of them. decided: by kind, design and scope."""
    by_design: dict[int, set[CellAction]] = defaultdict(set)
    for (_, design, _), action in decided.items():
        by_design[design].add(action)
    actions = [next(each for each in _FIRST_NAMED if each in taken) for taken in by_design.values()]
    return ReleaseCounts(
        number,
        replaced=actions.count("replace"),
        kept=actions.count("keep"),
        withheld=actions.count("withhold"),
        empty=actions.count("empty"),
    )


def _get_stated_thresholds(limits: Thresholds, number: int, actions: Mapping[Any, CellAction]) -> Thresholds:
    """Return the thresholds as the release states them.

    A cell that is kept may hold as many votes of one person as earlier releases allowed, and readers reckon
    from that number how many people there are at least: so it falls only once no older cell is left.
    """
    cap = limits.votes_per_contributor
    if "keep" in actions.values():
        before = Release.objects.get(number=number - 1).thresholds["votes_per_contributor"]
        cap = max(cap, int(before))
    return replace(limits, votes_per_contributor=cap)


def _store_release(made: ReleaseCounts, limits: Thresholds, rng: random.Random) -> Release:
    cells = Cell.objects.filter(last_release=None).order_by("design__key", "kind", "band")
    content = "\n".join(
        f"{key} {digest}" for key, digest in cells.values_list("design__key", "content_sha256")
    )
    return Release.objects.create(
        number=made.number,
        made_at=timezone.now(),
        engine_version=ENGINE_VERSION,
        region=group_facts.get_region(),
        thresholds={
            "min_contributors": limits.min_contributors,
            "public_min_contributors": limits.public_min_contributors,
            "min_joiners": limits.min_joiners,
            "detail_min_contributors": limits.detail_min_contributors,
            "votes_per_contributor": limits.votes_per_contributor,
        },
        # what everybody may see: how many designs have evidence, and how many of them changed
        counts={
            "designs": cells.values("design").distinct().count(),
            "replaced": made.replaced,
            "kept": made.kept,
        },
        content_sha256=hashlib.sha256(content.encode()).hexdigest(),
        salt=create_salt(rng),
        usual_spreads=usual_spreads.learn_usual_spreads(made.number),
    )


# A release with all that follows from it in this group; `pooling.after_release` also sends it to a pool.


def make_complete_release() -> ReleaseCounts:
    """Make the next release, then its files, then what is learned from it.

    It comes regularly in every group, so old counts of uses are forgotten here as well as at a start.
    """
    made = make_release(files=False)
    release_files.store_missing_release_files()
    learning.learn_models()
    use_counts.delete_old_counts()
    return made
