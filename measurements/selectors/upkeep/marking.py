"""Devices that somebody is about to mark as due, and the marks that can be taken back."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Max, Min

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.fitness.due_events import DUE_EVENTS_BY_CODE
from measurements.models import DueMark
from measurements.selectors.upkeep import device_filters, kept_states
from measurements.selectors.upkeep.device_filters import DueFilter

MOST_BATCHES = 5


@dataclass(frozen=True)
class MarkBatchRow:
    """Marks of one action. batch: takes them back. devices: how many still have one."""

    batch: str
    title: str
    reason: str
    marked_at: datetime
    devices: int


def list_keys_to_mark(viewer: Viewer, wanted: DueFilter) -> list[str]:
    """Return the keys of all devices of a filter, however many."""
    policy.check_operator(viewer)
    rows = device_filters.filter_devices(viewer, wanted)
    kept = device_filters.filter_by_state(rows, wanted.state, kept_states.get_standard())
    return list(kept.values_list("key", flat=True))


def list_mark_batches(viewer: Viewer) -> tuple[MarkBatchRow, ...]:
    """Return the newest actions that the viewer can take back: own ones, for a steward anybody's."""
    policy.check_operator(viewer)
    marks = DueMark.objects.all() if viewer.is_steward else DueMark.objects.filter(marked_by=viewer.member_id)
    rows = (
        marks.values("batch")
        .annotate(devices=Count("pk"), at=Max("marked_at"), event=Min("event"), reason=Min("reason"))
        .order_by("-at", "batch")[:MOST_BATCHES]
    )
    return tuple(
        MarkBatchRow(
            row["batch"],
            DUE_EVENTS_BY_CODE[row["event"]].title,
            row["reason"],
            row["at"],
            row["devices"],
        )
        for row in rows
    )
