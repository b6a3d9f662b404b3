"""Brings stored results up to the current engine: adds results, never overwrites one.

Nothing is read from files again: the arrays stored beside the bytes are what was measured.
"""

from __future__ import annotations

import itertools
from collections import defaultdict
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from multiprocessing import get_context

from django.db import IntegrityError, transaction
from django.db.models import Exists, OuterRef, QuerySet
from django_tasks import task

from measurements.models import Result, SweepFile, Test
from measurements.rf.analysis import ENGINE_VERSION, Analysis, Request
from measurements.rf.analysis_batches import analyse_many
from measurements.rf.request import Limits
from measurements.services.evidence import recipe_doubts
from measurements.services.operations import audit
from measurements.services.reference import band_plan, benchmarks
from measurements.services.tests import analysis, preparation, results
from measurements.services.uploads.dc_settings import read_stored_dc
from measurements.services.uploads.uploads import TestSettings

# digest -> row number, contributor and storing account of every test that holds the file
Holders = dict[str, list[tuple[int, int, int | None]]]

CHUNK = 256

SHARE = 64  # tests that one process takes at a time


def recompute_stale_tests(*, workers: int = 1, span: tuple[int, int] | None = None) -> int:
    """Compute every test whose current result is of another engine; answers how many there were.

    workers: processes that compute; storing stays with this one. span: first and last row number of the tests
    to look at (see `spans`). Each chunk of tests is a transaction, so an interrupted run has lost nothing
    and goes on where it stopped; two at once do each other no harm.
    """
    done = 0
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn")) if workers > 1 else None
    try:
        for chunk in _iterate_chunks(span):
            done += _store(chunk, list(_analyse_requests(_build_requests(chunk), pool)))
    finally:
        if pool is not None:
            pool.shutdown()
    if done:
        audit.record_action(by=None, action="recompute", subject=ENGINE_VERSION, tests=done)
    return done


def list_stale_spans(size: int) -> list[tuple[int, int]]:
    """Return first and last row numbers of portions of `size` tests each that wait to be computed."""
    waiting = list(_query_stale_tests().values_list("pk", flat=True).iterator())
    portions = (waiting[start : start + size] for start in range(0, len(waiting), size))
    return [(portion[0], portion[-1]) for portion in portions]


def _query_stale_tests() -> QuerySet[Test]:
    computed = Result.objects.filter(test=OuterRef("pk"), engine_version=ENGINE_VERSION)
    return Test.objects.filter(~Exists(computed)).order_by("pk")


def _analyse_requests(requests: list[Request], pool: ProcessPoolExecutor | None) -> Iterator[Analysis]:
    """Return their figures in order; tests of one frequency list are computed together."""
    if pool is None:
        return iter(analyse_many(requests))
    shares = [requests[start : start + SHARE] for start in range(0, len(requests), SHARE)]
    return itertools.chain.from_iterable(pool.map(analyse_many, shares))


def _iterate_chunks(span: tuple[int, int] | None) -> Iterator[list[Test]]:
    """Yield tests without a result of this engine, in portions; each portion is gone from the next look."""
    stale = _query_stale_tests() if span is None else _query_stale_tests().filter(pk__range=span)
    last = 0
    while True:
        chunk = list(
            stale.filter(pk__gt=last).select_related("device__design").prefetch_related("sweeps")[:CHUNK]
        )
        if not chunk:
            return
        last = chunk[-1].pk
        yield chunk


def _build_requests(chunk: Sequence[Test]) -> list[Request]:
    judged_by = _get_earlier_limits(chunk)
    holders = _find_holders(chunk)
    plan = cache(band_plan.get_band_plan)
    return [_build_request_of_test(test, judged_by.get(test.pk), holders, plan) for test in chunk]


def _build_request_of_test(
    test: Test, judged_by: Limits | None, holders: Holders, plan: band_plan.BandPlanLookup
) -> Request:
    settings = TestSettings(
        **{
            **test.settings,
            "readings": tuple(test.settings["readings"]),
            "dc": read_stored_dc(test.settings.get("dc")),
        }
    )
    files: list[SweepFile] = list(test.sweeps.all())
    digests = preparation.list_own_digests({file.role: file.raw_sha256 for file in files})
    own = [
        preparation.is_own_holder(*owner, test.device.contributor_id, test.recorded_by_id)
        for digest in digests
        for earlier, *owner in holders[digest]
        if earlier < test.pk
    ]
    test.shares_bytes = not all(own)  # stored with the results
    return analysis.build_request(
        sweeps={file.role: results.unpack_sweep(file) for file in files},
        settings=settings,
        on=test.measured_on,
        same_bytes=any(own),
        partner=analysis.get_stored_partner_loss(settings.partner) if settings.partner else None,
        judged_by=judged_by,
        plan=plan,
    )


def _find_holders(chunk: Sequence[Test]) -> Holders:
    """Return the tests that hold each of the files of these; see `preparation.find_holders`."""
    digests = {
        digest
        for test in chunk
        for digest in preparation.list_own_digests({file.role: file.raw_sha256 for file in test.sweeps.all()})
    }
    files = SweepFile.objects.filter(raw_sha256__in=digests)
    found: Holders = defaultdict(list)
    columns = ("raw_sha256", "test_id", "test__device__contributor", "test__recorded_by")
    for digest, *holder in files.values_list(*columns):
        found[digest].append(tuple(holder))
    return found


def _get_earlier_limits(chunk: Sequence[Test]) -> dict[int, Limits]:
    """Collect the limits that each was judged by before: a newer engine is no reason for another limit."""
    in_force = benchmarks.get_current_limits()
    current = Result.objects.filter(test__in=[test.pk for test in chunk], current=True)
    kept = current.values_list("test_id", "figures__summary")
    return {pk: benchmarks.get_limits_of_result(summary or {}, in_force) for pk, summary in kept}


def _store(chunk: Sequence[Test], found: Sequence[Analysis]) -> int:
    try:
        with transaction.atomic():
            for test, analysis in zip(chunk, found, strict=True):
                _assess_recipe(test, analysis)
            results.add_results(list(zip(chunk, found, strict=True)))
            Test.objects.bulk_update(chunk, ["shares_bytes", "recipe_doubt"])
    except IntegrityError:
        # one was withdrawn, or computed by another run meanwhile: the others one by one
        return sum(_store_single(test, analysis) for test, analysis in zip(chunk, found, strict=True))
    return len(chunk)


def _assess_recipe(test: Test, found: Analysis) -> None:
    """Hold the curve against the recipe, as an upload does; what its owner confirmed is left alone."""
    if test.kind == recipe_doubts.EVIDENCE_KIND and test.recipe_confirmed_at is None:
        test.recipe_doubt = recipe_doubts.check_recipe(test.device.design.recipe, found.evidence)


def _store_single(test: Test, found: Analysis) -> bool:
    try:
        with transaction.atomic():
            _assess_recipe(test, found)
            results.add_result(test, found)
            Test.objects.filter(pk=test.pk).update(
                shares_bytes=test.shares_bytes, recipe_doubt=test.recipe_doubt
            )
    except IntegrityError:
        return False  # gone, or there already: both are as they should be
    return True


# Recomputation by the workers. TASKS (deploy/settings.py) says where they run: on PostgreSQL on any host.

PORTION = 2048  # tests of one task: some seconds of work, so that hosts share even a small group's tests


@task()
def recompute_span(first: int, last: int) -> int:
    """Compute the tests between two row numbers that still wait; harmless where another worker did."""
    return recompute_stale_tests(span=(first, last))


def enqueue_recomputation(portion: int = PORTION) -> int:
    """Hand everything that waits to the workers; answers in how many portions."""
    spans = list_stale_spans(portion)
    for first, last in spans:
        recompute_span.enqueue(first, last)
    return len(spans)
