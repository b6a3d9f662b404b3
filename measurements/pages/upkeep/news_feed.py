"""What is new for one member as Atom (RFC 4287): own tests that were judged, own devices that are due,
watched designs whose verdict changed.

Tag, kind, counts of verdicts and state: neither place, nor owner, note or figure, since whoever has the
address can read it. The address is that of the member's calendar with another ending, and is revoked with it.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable
from datetime import UTC, datetime, time

from django.http import HttpRequest, HttpResponse
from django.urls import reverse
from django.utils import timezone
from django.utils.feedgenerator import Atom1Feed

from measurements.disclosure.viewers import Viewer
from measurements.pages.layout import upkeep_wording
from measurements.selectors.designs import watched
from measurements.selectors.designs.watched import VerdictChange
from measurements.selectors.tests import tests
from measurements.selectors.tests.tests import TestRow
from measurements.selectors.upkeep import due_devices
from measurements.selectors.upkeep.device_filters import DueFilter
from measurements.selectors.upkeep.rows import DeviceStateRow
from measurements.services.upkeep import calendar_feeds

NEWEST_TESTS = 30
DECISIONS = {
    "meets": "meets",
    "falls_short": "falls short",
    "too_close": "too close to call",
    "not_judged": "not judged",
}


def build_news_feed(
    judged: Iterable[TestRow],
    due: Iterable[DeviceStateRow],
    changed: Iterable[VerdictChange] = (),
    *,
    site: str,
    address: str,
) -> bytes:
    """Build the feed. site: where the pages are, without a slash at the end. address: of the feed itself."""
    feed = Atom1Feed(
        title="Benchnight: what is new for you",
        link=f"{site}/",
        feed_url=address,
        description="",
        feed_guid=f"{site}/calendar/",
    )
    for test in judged:
        where = site + reverse("pages:test", kwargs={"key": test.key})
        feed.add_item(
            title=f"{test.device_tag}: {test.kind.replace('_', ' ')} test judged",
            link=where,
            description=describe_decisions(test),
            unique_id=where,
            updateddate=test.recorded_at,
        )
    for row in due:
        where = site + reverse("pages:device", kwargs={"key": row.key})
        since = row.due_on or row.newest_on
        feed.add_item(
            title=f"{row.tag}: {upkeep_wording.STATE_BADGES[row.state].word.lower()}",
            link=where,
            description="This device asks for something now.",
            unique_id=f"{where}#{row.state}-{since or 'undated'}",
            updateddate=datetime.combine(since, time(), UTC) if since else _today(),
        )
    for change in changed:
        where = site + reverse("pages:design", kwargs={"key": change.design})
        feed.add_item(
            title=f"{change.title}: another verdict",
            link=where,
            description=describe_change(change),
            unique_id=f"{where}#release-{change.release}",
            updateddate=change.made_at,
        )
    return str(feed.writeString("utf-8")).encode()


def describe_change(change: VerdictChange) -> str:
    """Say what a release changed, band by band."""
    said = "; ".join(
        f"{band}{'' if kind in ('', 'common_mode') else ' ' + kind.replace('_', ' ')}: "
        f"{before.replace('_', ' ')}, now {now.replace('_', ' ')}"
        for band, kind, before, now in change.bands
    )
    return f"Release {change.release}. {said}."


def describe_decisions(test: TestRow) -> str:
    """Count the bands by what was decided, such as `4 bands: 3 meets, 1 too close to call`."""
    counted = Counter(band["decision"] for band in test.result.get("bands", ()))
    if not counted:
        return "No band was judged."
    said = ", ".join(f"{counted[code]} {word}" for code, word in DECISIONS.items() if counted[code])
    return f"{counted.total()} bands: {said}."


def download_news_feed(request: HttpRequest, _viewer: Viewer, secret: str) -> HttpResponse:
    """GET: the feed of whoever made this address; whoever has the address can read it."""
    owner, of_group = calendar_feeds.open_calendar_feed(secret=secret)
    # the group's address says what is due of its kit, and nothing of one member's tests
    mine = () if of_group else tests.list_tests(owner, limit=NEWEST_TESTS).results
    changed = () if of_group else watched.list_verdict_changes(owner)
    wanted = DueFilter(state="due", of_group=of_group, mine=not of_group)
    due = due_devices.list_all_devices(owner, wanted)
    site = request.build_absolute_uri("/").rstrip("/")
    content = build_news_feed(mine, due, changed, site=site, address=request.build_absolute_uri())
    response = HttpResponse(content, content_type=Atom1Feed.content_type)
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex"
    return response


def _today() -> datetime:
    return timezone.now().replace(hour=0, minute=0, second=0, microsecond=0)
