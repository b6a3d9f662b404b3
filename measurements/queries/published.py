"""Exactly what is published of a viewer: the figures of its rows, and nothing else of it."""

from __future__ import annotations

from django.db.models import Count

from measurements.disclosure import policy, published_figures
from measurements.disclosure.circles import Viewer
from measurements.models import Contributor, Device, PublishedVote, Release, Result, group
from measurements.queries.rows import CrowdedRow, PublishedRow


def of_viewer(viewer: Viewer) -> tuple[PublishedRow, ...]:
    """One row per device of the viewer's that stands behind a cell of the current release, by tag.

    The figures are those of the engine of the release that published the cell. A test withdrawn since
    then is gone from here; its evidence goes with the next release.
    """
    policy.check_signed_in(viewer)
    contributor = Contributor.objects.filter(member=viewer.member_id).first()
    if contributor is None:
        return ()
    votes = PublishedVote.objects.filter(contributor_key=contributor.key, cell__last_release=None)
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
            rows.append(_row(device, tags.get(device, ""), test, design, bands, result))
    return tuple(sorted(rows, key=lambda row: row.device_tag))


def crowded(viewer: Viewer) -> tuple[CrowdedRow, ...]:
    """The designs of which the viewer has more tested devices than may vote, by title."""
    policy.check_signed_in(viewer)
    cap = group.release_thresholds().votes_per_contributor
    counts = Result.objects.filter(
        current=True,
        counts_as_evidence=True,
        test__excluded_reason="",
        test__device__contributor__member=viewer.member_id,
    )
    by_design = counts.values_list("test__device__design__key", "test__device__design__title")
    tested = by_design.annotate(devices=Count("test__device", distinct=True)).filter(devices__gt=cap)
    return tuple(CrowdedRow(*row, voting=cap) for row in tested.order_by("test__device__design__title"))


def _row(device: str, tag: str, test: str, design: str, bands: list[str], result: Result) -> PublishedRow:
    figures = published_figures.of_bands(result.figures)
    return PublishedRow(
        device=device,
        device_tag=tag,
        test=test,
        design=design,
        month=result.test.measured_on.strftime("%Y-%m"),
        bands=tuple({"band": band, **figures[band]} for band in bands if band in figures),
    )
