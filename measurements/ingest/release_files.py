"""Makes and keeps the files of a release.

They are made in the release's own transaction, so that a release that is there has its files. They never
change; but where somebody withdraws, the next release takes the tables out of every older release that
holds evidence of theirs, because what is withdrawn is not handed out any more, under no number.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.db import transaction
from django.db.models import Q

from measurements.disclosure import release_columns, release_papers, table_cells
from measurements.disclosure.circles import Circle
from measurements.disclosure.thresholds import Thresholds
from measurements.ingest import design_files, release_tables
from measurements.ingest import limits as benchmarks
from measurements.ingest.evidence_changes import Changes
from measurements.ingest.file_parts import Writing
from measurements.models import PublishedVote, Release, ReleaseFile, ReleaseFilePart, group

CSV, NDJSON, JSON, TEXT = "text/csv", "application/x-ndjson", "application/json", "text/plain"
# what holds figures; the rest only says what they mean
TABLES = ("evidence.csv", "evidence.ndjson", "designs-public.csv")
MANIFEST = "manifest.json"
Listed = dict[str, object]  # a file as the manifest lists it


def store(release: Release) -> None:
    """Makes the files of the newest release. Call inside the transaction that makes it."""
    listed = [*_rows(release), *_papers(release)]
    made_at = release.made_at.isoformat(timespec="seconds")
    for circle in ("public", "members"):
        # the manifest of the public names the public's files only: see `release_papers`
        own = [each for each in listed if circle == "members" or each["circle"] == "public"]
        # of a name that both circles have, each is given its own
        named = {each["name"]: each for each in sorted(own, key=lambda each: each["circle"] == circle)}
        lines = [each for each in own if named[each["name"]] is each]
        _written(release, MANIFEST, circle, JSON, release_papers.manifest(release.number, made_at, lines))


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


def take_out_withdrawn(changes: Changes) -> None:
    """Empties the tables of every release in which evidence stands that its owner has since withdrawn."""
    tables = ReleaseFile.objects.filter(pk__in=tables_of_withdrawn(changes))
    ReleaseFilePart.objects.filter(file__in=tables).delete()
    tables.update(withdrawn=True)


def tables_of_withdrawn(changes: Changes) -> set[int]:
    """Row numbers of the tables that `take_out_withdrawn` empties."""
    gone = PublishedVote.objects.without_test(None if changes.everything else changes.tests)
    found: set[int] = set()
    for first, last in gone.values_list("cell__first_release", "cell__last_release").distinct():
        held = Q(name__in=TABLES) | Q(name__startswith=design_files.BEGINS)
        tables = ReleaseFile.objects.filter(held, release__number__gte=first, withdrawn=False)
        tables = tables if last is None else tables.filter(release__number__lte=last)
        found.update(tables.values_list("pk", flat=True))
    return found


def _rows(release: Release) -> Iterable[Listed]:
    """The rows of members in both forms, in one pass; the aggregates of the public."""
    columns = release_columns.names(release_columns.EVIDENCE)
    as_csv = Writing(release, "evidence.csv", "members", CSV)
    as_ndjson = Writing(release, "evidence.ndjson", "members", NDJSON)
    as_csv.write(table_cells.csv_lines((), columns))
    of_designs: list[Listed] = []
    for rows in release_tables.evidence(bytes(release.salt)):
        as_csv.write(table_cells.csv_rows(rows))
        as_ndjson.write(table_cells.ndjson_lines(dict(zip(columns, row, strict=True)) for row in rows))
        of_designs += design_files.of_members(release, rows)
    yield as_csv.finish()
    yield as_ndjson.finish()
    public = list(release_tables.public(benchmarks.current().benchmark_db, _limits(release)))
    columns = release_columns.names(release_columns.PUBLIC)
    yield _written(release, "designs-public.csv", "public", CSV, *table_cells.csv_lines(public, columns))
    yield from (*of_designs, *design_files.of_the_public(release, public))


def _papers(release: Release) -> Iterable[Listed]:
    dictionary = release_papers.dictionary(
        release.number, release.engine_version, release.region, _limits(release)
    )
    yield _written(release, "dictionary.json", "public", JSON, dictionary)
    yield _written(release, "LICENCE.txt", "public", TEXT, release_papers.licence(*group.terms()))


def _written(release: Release, name: str, circle: Circle, media_type: str, *lines: str) -> Listed:
    writing = Writing(release, name, circle, media_type)
    writing.write(lines)
    return writing.finish()


def _limits(release: Release) -> Thresholds:
    """The thresholds that the release was made under, whatever they are by now."""
    return Thresholds(**release.thresholds)
