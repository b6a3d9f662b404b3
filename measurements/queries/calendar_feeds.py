"""The viewer's calendar addresses, without the addresses: those were shown once."""

from __future__ import annotations

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.models import CalendarFeed
from measurements.queries.rows_of_upkeep import FeedRow


def listing(viewer: Viewer) -> tuple[FeedRow, ...]:
    """The viewer's own, the oldest first."""
    policy.check_signed_in(viewer)
    rows = CalendarFeed.objects.filter(member_id=viewer.member_id).order_by("pk")
    return tuple(FeedRow(row.name, row.label, row.made_at, row.last_used_on) for row in rows)
