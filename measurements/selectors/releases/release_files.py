"""The files of a release that a viewer may have: the public its own, members all."""

from __future__ import annotations

import gzip
import itertools
from collections.abc import Collection, Iterator
from dataclasses import dataclass

from measurements.disclosure.viewers import Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import Release, ReleaseFile, ReleaseFilePart


@dataclass(frozen=True)
class ReleaseFileRow:
    """A file of a release; its bytes come from `release_files.content`."""

    name: str
    circle: str
    media_type: str
    size: int
    sha256: str


_ORDER = (
    "evidence.csv",
    "evidence.ndjson",
    "datapackage.json",
    "dictionary.json",
    "LICENCE.txt",
    "CITATION.txt",
)

DESIGN_FILE_PREFIX = "design-"  # how the name of the file of one design begins

_COLUMNS = ("release_id", "name", "circle", "media_type", "size", "sha256")


def list_files_of_releases(viewer: Viewer, numbers: Collection[int]) -> dict[int, tuple[ReleaseFileRow, ...]]:
    """Return the files of each release, in one query; none for a release that has none.

    Without the one file per design, which `manifest.json` lists: there are as many as designs.
    """
    whole = ReleaseFile.objects.filter(release__in=numbers, withdrawn=False)
    rows = whole.exclude(name__startswith=DESIGN_FILE_PREFIX).values_list(*_COLUMNS)
    found: dict[int, dict[str, ReleaseFileRow]] = {number: {} for number in numbers}
    # the viewer's own circle first: of a file that both circles have, each sees its own
    for number, *columns in sorted(rows, key=lambda row: row[2] != get_circle(viewer)):
        row = ReleaseFileRow(*columns)
        if get_circle(viewer) == "members" or row.circle == "public":
            found[number].setdefault(row.name, row)
    return {number: tuple(sorted(files.values(), key=_file_place)) for number, files in found.items()}


def get_file_content(viewer: Viewer, number: int, name: str) -> tuple[ReleaseFileRow, bytes]:
    """Return a file and its bytes, all at once. Raises as `pieces` does."""
    row, pieces_of_it = stream_file(viewer, number, name)
    return row, b"".join(pieces_of_it)


def stream_file(viewer: Viewer, number: int, name: str) -> tuple[ReleaseFileRow, Iterator[bytes]]:
    """Return a file and its bytes in pieces of about 1 MiB, read one after another.

    Raises BenchnightError: `release.not_found`, `release.file_not_found`, `release.file_members_only`, and
    `release.file_withdrawn` where its release was withdrawn.
    """
    if not Release.objects.filter(number=number).exists():
        raise BenchnightError("release.not_found", "There is no release of this number.", kind="not_found")
    rows = {row.circle: row for row in ReleaseFile.objects.filter(release=number, name=name)}
    row = rows.get(get_circle(viewer)) or rows.get("public")
    # whether members have a file of a design would tell the public that its evidence is not empty
    if row is None and (not rows or name.startswith(DESIGN_FILE_PREFIX)):
        raise BenchnightError(
            "release.file_not_found",
            "This release has no such file; it lists those it has.",
            kind="not_found",
        )
    if row is None:
        raise BenchnightError(
            "release.file_members_only",
            "This file is for signed-in members.",
            kind="forbidden",
        )
    if row.withdrawn:
        raise BenchnightError(
            "release.file_withdrawn",
            "This file was withdrawn, so it is not handed out any more. Take the newest release.",
            kind="not_found",
        )
    return ReleaseFileRow(row.name, row.circle, row.media_type, row.size, row.sha256), _unpack_parts(row.pk)


def stream_newest_file(viewer: Viewer, name: str) -> Iterator[bytes] | None:
    """Return a file of the newest release in pieces; None until it is made, or where it is not for
    `viewer`.
    """
    release = Release.objects.order_by("-number").values_list("number", flat=True).first()
    row = ReleaseFile.objects.filter(
        release=release, name=name, circle=get_circle(viewer), withdrawn=False
    ).first()
    return None if row is None else _unpack_parts(row.pk)


def _unpack_parts(file_id: int) -> Iterator[bytes]:
    """Yield part after part, each found by its number: no cursor is held open while a slow reader reads."""
    for number in itertools.count():
        part = ReleaseFilePart.objects.filter(file=file_id, number=number).values_list("content", flat=True)
        packed = part.first()
        if packed is None:
            return
        yield gzip.decompress(bytes(packed))


def _file_place(row: ReleaseFileRow) -> int:
    return _ORDER.index(row.name) if row.name in _ORDER else len(_ORDER)
