"""Makes and keeps the files of a release.

They are made in the release's own transaction, so that a release that is there has its files. They never
change; but where somebody withdraws, the next release takes the tables out of every older release that
holds evidence of theirs, because what is withdrawn is not handed out any more, under no number.
"""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from dataclasses import dataclass

from django.db import transaction

from measurements.disclosure import release_columns, release_papers, table_cells
from measurements.disclosure.circles import Circle
from measurements.disclosure.thresholds import Thresholds
from measurements.ingest import limits as benchmarks
from measurements.ingest import release_tables
from measurements.models import PublishedVote, Release, ReleaseFile, Test, group

CSV, NDJSON, JSON, TEXT = "text/csv", "application/x-ndjson", "application/json", "text/plain"
# what holds figures; the rest only says what they mean
TABLES = ("evidence.csv", "evidence.ndjson", "designs-public.csv")
MANIFEST = "manifest.json"


@dataclass(frozen=True)
class _Made:
    """A file not yet stored."""

    name: str
    circle: Circle
    media_type: str
    content: bytes

    @property
    def listed(self) -> dict[str, object]:
        return {
            "name": self.name,
            "circle": self.circle,
            "media_type": self.media_type,
            "size": len(self.content),
            "sha256": hashlib.sha256(self.content).hexdigest(),
        }


def store(release: Release) -> None:
    """Makes the files of the newest release. Call inside the transaction that makes it."""
    files = [*_tables(release), *_papers(release)]
    made_at = release.made_at.isoformat(timespec="seconds")
    manifests = [
        _Made(MANIFEST, circle, JSON, _encoded(release_papers.manifest(release.number, made_at, listed)))
        for circle, listed in (
            ("public", [each.listed for each in files if each.circle == "public"]),
            ("members", [each.listed for each in files]),
        )
    ]
    ReleaseFile.objects.bulk_create(
        ReleaseFile(release=release, content=each.content, **each.listed) for each in [*files, *manifests]
    )


def complete() -> int | None:
    """Makes the files of the newest release where it has none (made before there were files).

    Answers its number, None where there was nothing to do.
    """
    with transaction.atomic():
        newest = Release.objects.order_by("-number").first()
        if newest is None or newest.files.exists():
            return None
        store(newest)
    return newest.number


def take_out_withdrawn() -> None:
    """Empties the tables of every release in which evidence stands that its owner has since withdrawn."""
    gone = PublishedVote.objects.exclude(test_key__in=Test.objects.values("key"))
    spans = gone.values_list("cell__first_release", "cell__last_release").distinct()
    for first, last in spans:
        tables = ReleaseFile.objects.filter(
            name__in=TABLES, release__number__gte=first, content__isnull=False
        )
        (tables if last is None else tables.filter(release__number__lte=last)).update(content=None)


def _tables(release: Release) -> Iterable[_Made]:
    columns = release_columns.names(release_columns.EVIDENCE)
    rows = list(release_tables.evidence(bytes(release.salt)))
    yield _Made("evidence.csv", "members", CSV, _joined(table_cells.csv_lines(rows, columns)))
    objects = (dict(zip(columns, row, strict=True)) for row in rows)
    yield _Made("evidence.ndjson", "members", NDJSON, _joined(table_cells.ndjson_lines(objects)))
    public = release_tables.public(benchmarks.current().benchmark_db, _limits(release))
    columns = release_columns.names(release_columns.PUBLIC)
    yield _Made("designs-public.csv", "public", CSV, _joined(table_cells.csv_lines(public, columns)))


def _papers(release: Release) -> Iterable[_Made]:
    dictionary = release_papers.dictionary(
        release.number, release.engine_version, release.region, _limits(release)
    )
    yield _Made("dictionary.json", "public", JSON, _encoded(dictionary))
    yield _Made("LICENCE.txt", "public", TEXT, _encoded(release_papers.licence(*group.terms())))


def _limits(release: Release) -> Thresholds:
    """The thresholds that the release was made under, whatever they are by now."""
    return Thresholds(**release.thresholds)


def _joined(lines: Iterable[str]) -> bytes:
    return "".join(lines).encode()


def _encoded(text: str) -> bytes:
    return text.encode()
