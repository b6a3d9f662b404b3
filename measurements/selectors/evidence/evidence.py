"""What the current release says of a viewer's own devices, and when a table of it is unchanged."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from dataclasses import astuple, dataclass
from typing import Any

from django.db.models import Count, Q

from measurements.disclosure import policy, published_figures
from measurements.disclosure.viewers import Viewer, get_circle
from measurements.models import (
    Contributor,
    Design,
    PublishedVote,
    Release,
    Result,
    Test,
    group_settings,
)
from measurements.rf.analysis import ENGINE_VERSION
from measurements.selectors.reference import reference


@dataclass(frozen=True)
class PublishedRow:
    """What a test of a viewer's device adds to the published evidence, by band; only the viewer sees it."""

    kind: str
    device: str
    device_tag: str
    test: str
    design: str
    bands: tuple[dict[str, Any], ...]


@dataclass(frozen=True)
class PublishedPage:
    """A part of the published rows of a viewer, and how many devices there are in all."""

    rows: tuple[PublishedRow, ...]
    count: int


@dataclass(frozen=True)
class CrowdedRow:
    """A design of which the viewer has more tested devices than may vote: the newest tests do."""

    design: str
    title: str
    devices: int
    voting: int


# What a table of the whole evidence is made of, so that it can be told unchanged without being read.


def get_evidence_state(viewer: Viewer) -> tuple[str, ...]:
    """Build a text that stays equal as long as the viewer's circle would see the same rows.

    A release is known by its number and its salt: a restored database may hold another one of that number.
    They are secrets of the server: hash them under a key before they leave it.
    """
    number, salt = Release.objects.order_by("-number").values_list("number", "salt").first() or (0, b"")
    # cells change with releases only
    state = (get_circle(viewer), ENGINE_VERSION, str(number), bytes(salt).hex())
    return (*state, *_list_judging_state())


def _list_judging_state() -> tuple[str, ...]:
    """List what aggregates are judged by today: thresholds, benchmark, band plan and designs."""
    designs = hashlib.sha256()
    for row in Design.objects.order_by("pk").values_list("key", "title", "merged_into").iterator():
        designs.update(repr(row).encode())
    bands = ",".join(band.band for band in reference.list_bands())
    thresholds = map(str, astuple(group_settings.get_thresholds()))
    return (designs.hexdigest(), bands, repr(sorted(reference.get_limits().items())), *thresholds)


# What goes into the published evidence from a viewer: figures of its own devices.


def list_published_rows(viewer: Viewer) -> tuple[PublishedRow, ...]:
    """List everything that is published of the viewer's devices, as `get_published_page` does."""
    return get_published_page(viewer).rows


def get_published_page(viewer: Viewer, *, first: int = 0, most: int | None = None) -> PublishedPage:
    """Get a row for each device of the viewer's with a vote in a cell of the current release, by tag.

    The figures are those of the engine of the release that published the cell. A test withdrawn since then is
    not here: its figures are deleted, and only the frozen cell still rests on them. first, most: the part of
    the list whose figures are read; all by default.
    """
    policy.check_signed_in(viewer)
    contributor = Contributor.objects.filter(member=viewer.member_id).first()
    if contributor is None:
        return PublishedPage((), 0)
    tags = dict(contributor.devices.values_list("key", "tag"))
    votes = PublishedVote.objects.filter(
        device_key__in=contributor.devices.values("key"),
        test_key__in=Test.objects.filter(device__contributor=contributor).values("key"),
        cell__last_release=None,
    )
    columns = ("test_key", "device_key", "cell__design__key", "cell__first_release", "cell__bands")
    found = sorted(votes.values_list(*columns), key=lambda row: (tags[row[1]], row[1], row[0]))
    shown = found[first:] if most is None else found[first : first + most]
    return PublishedPage(tuple(_read_published_rows(shown, tags)), len(found))


def _read_published_rows(votes: list[tuple[Any, ...]], tags: dict[str, str]) -> Iterator[PublishedRow]:
    engines = dict(Release.objects.values_list("number", "engine_version"))
    results = {
        (result.test.key, result.engine_version): result
        for result in Result.objects.filter(test__key__in=[row[0] for row in votes]).select_related("test")
    }
    for test, device, design, release, bands in votes:
        result = results.get((test, engines[release]))
        if result is not None:
            yield _published_row(device, tags[device], test, design, bands, result)


def list_crowded_designs(viewer: Viewer) -> tuple[CrowdedRow, ...]:
    """Return the designs of which the viewer has more tested devices than may vote, by title."""
    policy.check_signed_in(viewer)
    cap = group_settings.get_release_thresholds().votes_per_contributor
    counts = Result.objects.filter(
        current=True,
        counts_as_evidence=True,
        test__excluded_reason="",
        test__is_private=False,
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
        kind=result.figures["kind"],
        device=device,
        device_tag=tag,
        test=test,
        design=design,
        bands=tuple({"band": band, **figures[band]} for band in bands if band in figures),
    )
