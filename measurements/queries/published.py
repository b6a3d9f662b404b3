"""Exactly what is published of a viewer: the figures of its rows, and nothing else of it."""

from __future__ import annotations

from measurements.disclosure import policy, published_figures
from measurements.disclosure.circles import Viewer
from measurements.models import Contributor, Device, PublishedVote, Release, Result
from measurements.queries.rows import PublishedRow


def of_viewer(viewer: Viewer) -> tuple[PublishedRow, ...]:
    """One row per device of the viewer's that stands behind a cell of the current release.

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
    return tuple(rows)


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
