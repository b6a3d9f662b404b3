"""The identity-free rows of the current release, for members; row ids are new in every release."""

from __future__ import annotations

import hashlib
import itertools
from collections.abc import Iterator
from dataclasses import astuple, dataclass
from typing import Any

from django.db.models import Count, Q, QuerySet

from measurements.disclosure import policy, published_figures, release_rows
from measurements.disclosure.release_rows import split_into_portions
from measurements.disclosure.viewers import Viewer, get_circle
from measurements.errors import BenchnightError
from measurements.models import (
    Cell,
    Contributor,
    Design,
    Device,
    EvidenceSample,
    PublishedVote,
    Release,
    Result,
    group_settings,
)
from measurements.rf.analysis import ENGINE_VERSION
from measurements.selectors import paging
from measurements.selectors.paging import Page
from measurements.selectors.reference import reference


@dataclass(frozen=True)
class EvidenceItem:
    """One identity-free row of the current release: a device's figures on a band.

    `id` and `sample` are random and new in every release; rows of one device share `sample`.
    """

    id: str
    sample: str
    design: str
    month: str
    band: str
    coverage: str
    rejection_worst_db: float
    rejection_centre_db: float
    rejection_best_db: float
    resistance_smallest_ohm: float | None
    impedance_smallest_ohm: float | None
    self_resonance_hz: float | None


@dataclass(frozen=True)
class PublishedRow:
    """Exactly what is published of a viewer's device: the row's figures, nothing else."""

    device: str
    device_tag: str
    test: str
    design: str
    month: str
    bands: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class CrowdedRow:
    """A design of which the viewer has more tested devices than may vote: the newest tests do."""

    design: str
    title: str
    devices: int
    voting: int


PORTION_DEVICES = 2000  # devices read at a time by a stream


def list_evidence_items(
    viewer: Viewer, *, design: str | None = None, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[EvidenceItem]:
    """Return one page of rows. Raises BenchnightError `evidence.members_only` for the public."""
    size = paging.check_limit(limit)
    # a cursor counts inside one design, so that it neither shows row keys nor slows down with depth
    position = paging.decode_cursor(cursor, design=str, skip=int) or {"design": "", "skip": 0}
    cells = _cells(viewer, design).filter(design__key__gte=position["design"])
    wanted = position["skip"] + size + 1
    touched = list(itertools.islice(_read_in_portions(cells, wanted), wanted))
    items = tuple(touched[position["skip"] : position["skip"] + size])
    if len(touched) < wanted:
        return Page(items, None)
    last = items[-1].design
    inside = sum(1 for item in items if item.design == last)
    skip = inside + (position["skip"] if last == position["design"] else 0)
    return Page(items, paging.encode_cursor({"design": last, "skip": skip}))


def stream_evidence_items(viewer: Viewer, *, design: str | None = None) -> Iterator[EvidenceItem]:
    """Return all rows, one portion of designs after another: memory does not grow with their number.

    Raises BenchnightError `evidence.members_only` for the public, before the first row.
    """
    return _read_in_portions(_cells(viewer, design), PORTION_DEVICES)


def _read_in_portions(cells: QuerySet[Cell], devices: int) -> Iterator[EvidenceItem]:
    """Yield rows of these cells, read for so many devices at a time; every device has a row or more."""
    salt = Release.objects.order_by("-number").values_list("salt", flat=True).first() or b""
    for portion in split_into_portions(cells.values_list("id", "devices").iterator(), devices):
        samples = EvidenceSample.objects.filter(cell__in=portion).values_list(*release_rows.SAMPLE_COLUMNS)
        for row in release_rows.build_release_rows(bytes(salt), samples.iterator()):
            yield EvidenceItem(*row)


def _cells(viewer: Viewer, design: str | None) -> QuerySet[Cell]:
    """Return the cells of the current release, by design."""
    if get_circle(viewer) != "members":
        raise BenchnightError(
            "evidence.members_only",
            "Rows of single devices are for signed-in members. Everybody may read each design's evidence.",
            kind="forbidden",
        )
    cells = Cell.objects.filter(last_release=None).order_by("design__key")
    return cells.filter(design__key=design) if design else cells


# What a table of the whole evidence is made of, so that it can be told unchanged without being read.


def get_evidence_state(viewer: Viewer) -> tuple[str, ...]:
    """Build a text that stays equal as long as the viewer's circle would see the same rows.

    A release is known by its number and its salt: a restored database may hold another one of that number.
    They are secrets of the server: hash them under a key before they leave it.
    """
    number, salt = Release.objects.order_by("-number").values_list("number", "salt").first() or (0, b"")
    state = (
        get_circle(viewer),
        ENGINE_VERSION,
        str(number),
        bytes(salt).hex(),
    )  # cells change with releases only
    return state if get_circle(viewer) == "members" else (*state, *_public_state())


def _public_state() -> tuple[str, ...]:
    """Return aggregates are judged anew: by today's thresholds, benchmark, band plan and list of designs."""
    designs = hashlib.sha256()
    for row in Design.objects.order_by("pk").values_list("key", "title", "merged_into").iterator():
        designs.update(repr(row).encode())
    bands = ",".join(band.band for band in reference.list_bands())
    thresholds = map(str, astuple(group_settings.get_thresholds()))
    return (designs.hexdigest(), bands, str(reference.get_benchmark_db()), *thresholds)


# Exactly what is published of a viewer: the figures of its rows, and nothing else of it.


def list_published_rows(viewer: Viewer) -> tuple[PublishedRow, ...]:
    """List a row for each device of the viewer's with a vote in a cell of the current release, by tag.

    The figures are those of the engine of the release that published the cell. A test withdrawn since then is
    not here: its figures are deleted, and only the frozen cell still rests on them.
    """
    policy.check_signed_in(viewer)
    contributor = Contributor.objects.filter(member=viewer.member_id).first()
    if contributor is None:
        return ()
    own = contributor.devices.values("key")
    votes = PublishedVote.objects.filter(device_key__in=own, cell__last_release=None)
    columns = ("test_key", "device_key", "cell__design__key", "cell__first_release", "cell__bands")
    found = list(votes.order_by("device_key").values_list(*columns))
    tags = dict(Device.objects.filter(key__in=[row[1] for row in found]).values_list("key", "tag"))
    engines = dict(Release.objects.values_list("number", "engine_version"))
    results = {
        (result.test.key, result.engine_version): result
        for result in Result.objects.filter(test__key__in=[row[0] for row in found]).select_related("test")
    }
    rows = []
    for test, device, design, release, bands in found:
        result = results.get((test, engines[release]))
        if result is not None:
            rows.append(_published_row(device, tags.get(device, ""), test, design, bands, result))
    return tuple(sorted(rows, key=lambda row: row.device_tag))


def list_crowded_designs(viewer: Viewer) -> tuple[CrowdedRow, ...]:
    """Return the designs of which the viewer has more tested devices than may vote, by title."""
    policy.check_signed_in(viewer)
    cap = group_settings.get_release_thresholds().votes_per_contributor
    counts = Result.objects.filter(
        current=True,
        counts_as_evidence=True,
        test__excluded_reason="",
        test__device__is_check_standard=False,
        test__device__design__isnull=False,
    ).filter(
        Q(test__device__voter__member=viewer.member_id)
        | Q(test__device__voter=None, test__device__contributor__member=viewer.member_id)
    )
    by_design = counts.values_list("test__device__design__key", "test__device__design__title")
    tested = by_design.annotate(devices=Count("test__device", distinct=True)).filter(devices__gt=cap)
    return tuple(CrowdedRow(*row, voting=cap) for row in tested.order_by("test__device__design__title"))


def _published_row(
    device: str, tag: str, test: str, design: str, bands: list[str], result: Result
) -> PublishedRow:
    figures = published_figures.extract_band_figures(result.figures)
    return PublishedRow(
        device=device,
        device_tag=tag,
        test=test,
        design=design,
        month=result.test.measured_on.strftime("%Y-%m"),
        bands=tuple({"band": band, **figures[band]} for band in bands if band in figures),
    )
