"""Brings stored results up to the current engine: adds results, never overwrites one.

Nothing is read from files again: the arrays stored beside the bytes are what was measured.
"""

from __future__ import annotations

import itertools
from collections.abc import Iterator, Mapping, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from multiprocessing import get_context

from django.db import IntegrityError, transaction
from django.db.models import Exists, Min, OuterRef, QuerySet

from measurements.ingest import analysis, arrays, audit, limits, partners, recording, results
from measurements.ingest.uploads import TestSettings
from measurements.models import Result, SweepFile, Test
from measurements.rf.analysis import Analysis, Request
from measurements.rf.engine import ENGINE_VERSION
from measurements.rf.many_sweeps import analyse_many
from measurements.rf.settings import Limits

CHUNK = 256
SHARE = 64  # tests that one process takes at a time


def bring_up_to_date(*, workers: int = 1, span: tuple[int, int] | None = None) -> int:
    """Computes every test whose current result is of another engine; answers how many there were.

    workers: processes that compute; storing stays with this one. span: first and last row number of the tests
    to look at (see `spans`). Each chunk of tests is a transaction, so an interrupted run has lost nothing
    and goes on where it stopped; two at once do each other no harm.
    """
    done = 0
    pool = ProcessPoolExecutor(workers, mp_context=get_context("spawn")) if workers > 1 else None
    try:
        for chunk in _chunks(span):
            done += _store(chunk, list(_analysed(_requests(chunk), pool)))
    finally:
        if pool is not None:
            pool.shutdown()
    if done:
        audit.note(by=None, action="recompute", subject=ENGINE_VERSION, tests=done)
    return done


def spans(size: int) -> list[tuple[int, int]]:
    """First and last row numbers of portions of `size` tests each that wait to be computed."""
    waiting = list(_stale().values_list("pk", flat=True).iterator())
    portions = (waiting[start : start + size] for start in range(0, len(waiting), size))
    return [(portion[0], portion[-1]) for portion in portions]


def _stale() -> QuerySet[Test]:
    computed = Result.objects.filter(test=OuterRef("pk"), engine_version=ENGINE_VERSION)
    return Test.objects.filter(~Exists(computed)).order_by("pk")


def _analysed(requests: list[Request], pool: ProcessPoolExecutor | None) -> Iterator[Analysis]:
    """Their figures in order; tests of one frequency list are computed together."""
    if pool is None:
        return iter(analyse_many(requests))
    shares = [requests[start : start + SHARE] for start in range(0, len(requests), SHARE)]
    return itertools.chain.from_iterable(pool.map(analyse_many, shares))


def _chunks(span: tuple[int, int] | None) -> Iterator[list[Test]]:
    """Tests without a result of this engine, in portions; each portion is gone from the next look."""
    stale = _stale() if span is None else _stale().filter(pk__range=span)
    last = 0
    while True:
        chunk = list(stale.filter(pk__gt=last).prefetch_related("sweeps")[:CHUNK])
        if not chunk:
            return
        last = chunk[-1].pk
        yield chunk


def _requests(chunk: Sequence[Test]) -> list[Request]:
    judged_by = _judged_by(chunk)
    first = _first_holders(chunk)
    plan = cache(analysis.band_plan)
    return [_request(test, judged_by.get(test.pk), first, plan) for test in chunk]


def _request(test: Test, judged_by: Limits | None, first: Mapping[str, int], plan: analysis.Plan) -> Request:
    settings = TestSettings(**{**test.settings, "readings": tuple(test.settings["readings"])})
    files: list[SweepFile] = list(test.sweeps.all())
    own = recording.own_digests({file.role: file.raw_sha256 for file in files})
    return analysis.request_of(
        sweeps={file.role: arrays.sweep_of(file) for file in files},
        settings=settings,
        on=test.measured_on,
        same_bytes=any(first[digest] < test.pk for digest in own),
        partner=partners.stored(settings.partner) if settings.partner else None,
        judged_by=judged_by,
        plan=plan,
    )


def _first_holders(chunk: Sequence[Test]) -> dict[str, int]:
    """The oldest test that holds each of the files of these; see `recording.stored_elsewhere`."""
    digests = {file.raw_sha256 for test in chunk for file in test.sweeps.all()}
    files = SweepFile.objects.filter(raw_sha256__in=digests).values("raw_sha256")
    return dict(files.annotate(first=Min("test_id")).values_list("raw_sha256", "first"))


def _judged_by(chunk: Sequence[Test]) -> dict[int, Limits]:
    """What each was judged by before: a newer engine is no reason to hold it against another limit."""
    in_force = limits.current()
    current = Result.objects.filter(test__in=[test.pk for test in chunk], current=True)
    kept = current.values_list("test_id", "figures__summary")
    return {pk: limits.judged_by(summary or {}, in_force) for pk, summary in kept}


def _store(chunk: Sequence[Test], found: Sequence[Analysis]) -> int:
    try:
        with transaction.atomic():
            results.add_all(list(zip(chunk, found, strict=True)))
    except IntegrityError:
        # one was withdrawn, or computed by another run meanwhile: the others one by one
        return sum(_stored_alone(test, analysis) for test, analysis in zip(chunk, found, strict=True))
    return len(chunk)


def _stored_alone(test: Test, found: Analysis) -> bool:
    try:
        with transaction.atomic():
            results.add(test, found)
    except IntegrityError:
        return False  # gone, or there already: both are as they should be
    return True
