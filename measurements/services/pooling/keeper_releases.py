"""Makes the next pooled release on the server that keeps a pool: decide, learn, judge, audit, write, sign.

One pass over the records that stand. Everything happens in one transaction; a release that fails its audit
leaves nothing behind.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from dataclasses import dataclass
from typing import Any

import numpy as np
from django.db import transaction
from django.db.models import Max
from django.utils import timezone

from measurements.disclosure import evidence_view, policy, rounding
from measurements.disclosure.pooled_rule import PooledDecision, PooledState
from measurements.disclosure.thresholds import Thresholds
from measurements.disclosure.viewers import Viewer
from measurements.models import (
    KeptDesign,
    KeptOffset,
    KeptRelease,
    KeptReleaseFile,
    KeptSet,
    KeptState,
    group_facts,
    group_settings,
)
from measurements.rf.evidence_grid import GRID_HZ
from measurements.services.operations import audit
from measurements.services.pooling import keeper_figures, keeper_ledger, release_package
from measurements.services.pooling.keeper_figures import JudgedState
from measurements.services.pooling.keeper_ledger import DesignKey, DesignLedger
from measurements.services.reference.band_plan import get_band_plan
from measurements.services.reference.benchmarks import get_current_limits
from measurements.verdict.pooled_verdict import PooledVerdict

BATCH = 500


@dataclass(frozen=True)
class PooledReleaseCounts:
    """The new release's number and how many designs took which way."""

    number: int
    groups: int
    replaced: int
    kept: int
    withheld: int
    waiting: int


@dataclass(frozen=True)
class _Work:
    """What one release is made of. states: what is public after it; made: the new ones among them."""

    number: int
    core: Mapping[str, frozenset[str]]
    limits: Thresholds
    ledgers: Mapping[DesignKey, DesignLedger]
    states: Mapping[DesignKey, PooledState]
    made: Mapping[DesignKey, PooledState]


def make_pooled_release(*, by: Viewer | None = None) -> PooledReleaseCounts:
    """Publish the next pooled release. Raises BenchnightError `pool.audit`, IntegrityError of two at once."""
    if by is not None:
        policy.check_steward(by)
    with transaction.atomic():
        before = KeptRelease.objects.order_by("-number").first()
        number = before.number + 1 if before else 1
        limits, ledgers = group_settings.get_thresholds(), keeper_ledger.read_ledgers()
        plan = get_band_plan(group_facts.get_region(), timezone.localdate())
        core = keeper_ledger.choose_core_bands(ledgers, plan)
        aside = keeper_ledger.list_groups_aside()
        decided = {
            key: keeper_ledger.decide_design(ledger, core.get(key[1], frozenset()), limits, aside)
            for key, ledger in ledgers.items()
        }
        keeper_ledger.check_pool(number, ledgers, decided, limits.min_joiners)
        work = _build_work(number, core, limits, ledgers, decided)
        counts = _count(work, decided)
        release = _store_release(work, counts, before)
        _store_states(work, decided, release)
        _store_files(release, limits)
        audit.record_action(by=by, action="pool.release", subject=str(number), replaced=counts.replaced)
    return counts


def _build_work(
    number: int,
    core: Mapping[str, frozenset[str]],
    limits: Thresholds,
    ledgers: Mapping[DesignKey, DesignLedger],
    decided: Mapping[DesignKey, PooledDecision],
) -> _Work:
    states = {key: each.state for key, each in decided.items() if each.state is not None}
    made = {key: states[key] for key, each in decided.items() if each.action == "replace"}
    return _Work(number, core, limits, ledgers, states, made)


def _count(work: _Work, decided: Mapping[DesignKey, PooledDecision]) -> PooledReleaseCounts:
    actions = [each.action for each in decided.values()]
    groups = {group for state in work.states.values() for group in state.weights}
    return PooledReleaseCounts(
        work.number,
        len(groups),
        replaced=actions.count("replace"),
        kept=actions.count("keep"),
        withheld=actions.count("withhold"),
        waiting=actions.count("empty"),
    )


def _store_release(work: _Work, counts: PooledReleaseCounts, before: KeptRelease | None) -> KeptRelease:
    """Store the release with its usual spreads and offsets, learned now or as they were."""
    old = before.usual_spreads if before else {}
    learned_in = {kind: row["learned_in"] for kind, row in old.items()}
    spreads, fresh = {}, []
    for kind in sorted({key[1] for key in work.ledgers}):
        own = [state for key, state in work.states.items() if key[1] == kind]
        past = _read_states_of(kind, learned_in.get(kind))
        if keeper_figures.may_learn_again(past, own, work.limits.min_joiners):
            spread = keeper_figures.estimate_spread(kind, work.states, work.ledgers, work.core[kind])
            spreads[kind] = {"spread": spread, "learned_in": work.number}
            fresh.append(kind)
        elif kind in old:
            spreads[kind] = old[kind]
    release = KeptRelease.objects.create(
        number=work.number,
        made_at=timezone.now(),
        core_bands={kind: sorted(bands) for kind, bands in work.core.items()},
        usual_spreads=spreads,
        counts={
            "groups": counts.groups,
            "designs": len(work.states),
            "replaced": counts.replaced,
            "kept": counts.kept,
        },
        after_set=KeptSet.objects.aggregate(last=Max("pk"))["last"] or 0,
    )
    _store_offsets(work, release, fresh, before)
    return release


def _read_states_of(kind: str, release: int | None) -> list[PooledState]:
    """Read the states that were public at a release."""
    if release is None:
        return []
    rows = KeptState.objects.filter(kind=kind, first_release__lte=release)
    standing = [row for row in rows if row.last_release is None or row.last_release >= release]
    return [keeper_ledger.read_state(row) for row in standing]


def _store_offsets(work: _Work, release: KeptRelease, fresh: list[str], before: KeptRelease | None) -> None:
    """Store each group's offsets: estimated with what was learned again, as they were for other kinds."""
    kept = KeptOffset.objects.filter(release=before).exclude(kind__in=fresh) if before else ()
    columns = ("group_id", "kind", "band", "offset", "low", "high", "certain")
    rows = [KeptOffset(release=release, **{name: getattr(row, name) for name in columns}) for row in kept]
    for kind in fresh:
        for band in sorted(work.core[kind]):
            names, found = keeper_figures.estimate_group_offsets(kind, work.states, work.ledgers, band)
            told = keeper_figures.list_offset_rows(kind, band, names, found) if found else []
            rows += [KeptOffset(release=release, group_id=int(row.pop("group")), **row) for row in told]
    KeptOffset.objects.bulk_create(rows, batch_size=BATCH)


def _store_states(work: _Work, decided: Mapping[DesignKey, PooledDecision], release: KeptRelease) -> None:
    ended = [key for key, each in decided.items() if each.action in ("replace", "withhold")]
    for design, kind in ended:
        standing = KeptState.objects.filter(design=design, kind=kind, last_release=None)
        standing.update(last_release=work.number - 1)
    benchmarks = get_benchmarks()
    spreads = {kind: row["spread"] for kind, row in release.usual_spreads.items()}
    judged = keeper_figures.judge_states(work.made, work.ledgers, work.core, benchmarks, spreads)
    KeptState.objects.bulk_create(
        (
            KeptState(
                design_id=each.key[0],
                kind=each.key[1],
                first_release=work.number,
                votes=keeper_figures.list_votes_as_rows(each.state.votes),
                weights=dict(each.state.weights),
                figures=_build_figures(each, benchmarks[each.key[1]], work.limits),
            )
            for each in judged
        ),
        batch_size=BATCH,
    )


def get_benchmarks() -> dict[str, float]:
    """Get the keeper's house limits by kind."""
    limits = get_current_limits()
    return {
        "common_mode": limits.benchmark_db,
        "insertion_loss": limits.loss_db,
        "load_match": limits.swr,
    }


def _build_figures(judged: JudgedState, limit: float, limits: Thresholds) -> dict[str, Any]:
    """Build what is published of a state, rounded as the public sees it; empty under its threshold.

    Thresholds count the persons that the weights add up to: a person who counts for little hides nobody.
    """
    persons = int(np.floor(sum(judged.state.weights.values()) + 1e-6))
    if persons < limits.public_min_contributors:
        return {}
    metric = evidence_view.METRICS[judged.key[1]]
    detailed = persons >= limits.detail_min_contributors
    curve = rounding.round_figures(judged.curve, metric, detailed)
    return {
        "bands": {
            band: _build_band(verdict, limit, metric, persons, limits)
            for band, verdict in sorted(judged.verdicts.items())
        },
        "curve": [None if np.isnan(value) else float(value) for value in curve],
    }


def _build_band(
    verdict: PooledVerdict, limit: float, metric: str, persons: int, limits: Thresholds
) -> dict[str, Any]:
    detailed = persons >= limits.detail_min_contributors
    chance = evidence_view.round_chances(
        np.nan if verdict.chance is None else verdict.chance,
        verdict.verdict,
        persons,
        circle="public",
        thresholds=limits,
        at_house_benchmark=True,
    )
    quantiles = {
        name: rounding.round_figure(getattr(verdict, name), metric, detailed=True) if detailed else None
        for name in ("p10", "p25", "p75", "p90")
    }
    return {
        "limit": limit,
        "verdict": verdict.verdict,
        "chance": None if np.isnan(chance) else float(chance),
        "groups": verdict.groups,
        "contributors": rounding.format_count_band(verdict.contributors),
        "devices": rounding.format_count_band(verdict.devices),
        "median": rounding.round_figure(verdict.median, metric, detailed=detailed),
        **quantiles,
    }


def _store_files(release: KeptRelease, limits: Thresholds) -> None:
    standing = KeptState.objects.filter(last_release=None).select_related("design")
    rows = list(standing.order_by("design__title", "design__recipe_sha256", "kind"))
    shown = [row for row in rows if row.figures]
    designs = {row.design.recipe_sha256: row.design for row in shown}
    files = release_package.build_package(
        release.number,
        release.made_at,
        {**release.counts, "designs": len(shown)},
        {
            "evidence": (line for row in shown for line in _list_band_lines(row)),
            "curves": (line for row in shown for line in _list_curve_lines(row)),
            "recipes": (_build_recipe_line(design) for design in designs.values()),
        },
        "Amateur measurements of several groups, without warranty: they say what was measured at a bench, at "
        "low power, and not what a device withstands. Every row is of at least "
        f"{limits.public_min_contributors} people of three groups or more.",
    )
    KeptReleaseFile.objects.bulk_create(
        KeptReleaseFile(
            release=release,
            name=file.name,
            media_type=file.media_type,
            content=file.content,
            sha256=file.sha256,
        )
        for file in files
    )
    manifest = next(file for file in files if file.name == release_package.MANIFEST)
    KeptRelease.objects.filter(pk=release.pk).update(manifest_sha256=manifest.sha256)


def _list_band_lines(row: KeptState) -> list[dict[str, Any]]:
    about = {"recipe_sha256": row.design.recipe_sha256, "title": row.design.title, "kind": row.kind}
    return [{**about, "band": band, **own} for band, own in row.figures["bands"].items()]


def _list_curve_lines(row: KeptState) -> list[dict[str, Any]]:
    about = {"recipe_sha256": row.design.recipe_sha256, "kind": row.kind}
    points = zip(GRID_HZ.tolist(), row.figures["curve"], strict=True)
    return [
        {**about, "frequency_hz": round(hz), "median": value} for hz, value in points if value is not None
    ]


def _build_recipe_line(design: KeptDesign) -> dict[str, Any]:
    return {
        "recipe_sha256": design.recipe_sha256,
        "recipe_form": design.recipe_form,
        "recipe": json.dumps(design.recipe, sort_keys=True),
        "rows": json.dumps(design.rows, sort_keys=True),
    }
