"""Brings stored results up to the current engine: adds results, never overwrites one.

Nothing is read from files again: the arrays stored beside the bytes are what was measured.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterable, Iterator
from concurrent.futures import ProcessPoolExecutor
from multiprocessing import get_context

from django.db import IntegrityError, transaction

from measurements.ingest import analysis, arrays, audit, limits, partners, recording, results
from measurements.ingest.uploads import TestSettings
from measurements.models import Result, SweepFile, Test
from measurements.rf.analysis import Analysis, Request
from measurements.rf.engine import ENGINE_VERSION
from measurements.rf.many_sweeps import analyse_many
from measurements.rf.settings import Limits

CHUNK = 256
SHARE = 64  # tests that one process takes at a time


def bring_up_to_date(*, workers: int = 1) -> int:
    """Computes every test whose current result is of another engine; answers how many there were.

    workers: processes that compute; storing stays with this one. Each chunk of tests is a transaction,
    so an interrupted run has lost nothing and goes on where it stopped.
    """
    done = 0
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn")) if workers > 1 else None
    try:
        for chunk in _chunks():
            requests = [_request(test) for test in chunk]
            done += _store(zip(chunk, _analysed(requests, pool), strict=True))
    finally:
        if pool is not None:
            pool.shutdown()
    if done:
        audit.note(by=None, action="recompute", subject=ENGINE_VERSION, tests=done)
    return done


def _analysed(requests: list[Request], pool: ProcessPoolExecutor | None) -> Iterator[Analysis]:
    """Their figures in order; tests of one frequency list are computed together."""
    if pool is None:
        return iter(analyse_many(requests))
    shares = [requests[start : start + SHARE] for start in range(0, len(requests), SHARE)]
    return itertools.chain.from_iterable(pool.map(analyse_many, shares))


def _chunks() -> Iterator[list[Test]]:
    """Tests without a result of this engine, in portions; each portion is gone from the next look."""
    last = 0
    while True:
        computed = Result.objects.filter(engine_version=ENGINE_VERSION).values("test_id")
        stale = Test.objects.filter(pk__gt=last).exclude(pk__in=computed).order_by("pk")
        chunk = list(stale.prefetch_related("sweeps")[:CHUNK])
        if not chunk:
            return
        last = chunk[-1].pk
        yield chunk


def _request(test: Test) -> Request:
    settings = TestSettings(**{**test.settings, "readings": tuple(test.settings["readings"])})
    files: list[SweepFile] = list(test.sweeps.all())
    digests = {file.role: file.raw_sha256 for file in files}
    return analysis.request_of(
        sweeps={file.role: arrays.sweep_of(file) for file in files},
        settings=settings,
        on=test.measured_on,
        same_bytes=recording.stored_elsewhere(digests, but=test),
        partner=partners.stored(settings.partner) if settings.partner else None,
        judged_by=_limits(test),
    )


def _limits(test: Test) -> Limits | None:
    """What it was judged by before: a newer engine is no reason to hold it against another limit."""
    figures = Result.objects.filter(test=test, current=True).values_list("figures", flat=True).first()
    return None if figures is None else limits.judged_by(figures)


def _store(computed: Iterable[tuple[Test, Analysis]]) -> int:
    stored = 0
    for test, found in computed:
        try:
            with transaction.atomic():
                results.add(test, found)
        except IntegrityError:
            continue  # withdrawn, or computed by another run meanwhile: both are as they should be
        stored += 1
    return stored
