"""Devices as the API lists them: what its owner wrote, and the kept service state beside it."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date
from typing import Any

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import Device
from measurements.models.kept_states import build_state_waiting_flag
from measurements.selectors import paging
from measurements.selectors.devices import devices
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.paging import Page
from measurements.selectors.upkeep import device_filters, kept_states
from measurements.selectors.upkeep.device_filters import DueFilter

EVERY_DEVICE = DueFilter(retired=True)


@dataclass(frozen=True)
class ListedDevice(DeviceRow):
    """A device with its state. state: None while it waits for being judged; then the others say nothing.

    reasons: codes, the gravest first. reason, next_step: the gravest and what to do, in words.
    """

    state: str | None = None
    reasons: tuple[str, ...] = ()
    reason: str = ""
    next_step: str = ""
    due_on: date | None = None


def list_devices(
    viewer: Viewer,
    wanted: DueFilter = EVERY_DEVICE,
    *,
    cursor: str | None = None,
    limit: int = paging.DEFAULT_LIMIT,
) -> Page[ListedDevice]:
    """Return a page of the devices that the viewer may see and that fit the filter, the newest first."""
    policy.check_signed_in(viewer)
    size, standard = paging.check_limit(limit), kept_states.get_standard()
    fitting = device_filters.filter_devices(viewer, wanted)
    fitting = device_filters.filter_by_state(fitting, wanted.state, standard)
    rows = devices.query_counted_devices(viewer).filter(pk__in=fitting.order_by().values("pk"))
    rows = rows.select_related("design", "contributor__member", "kept_state")
    rows = rows.annotate(waits=build_state_waiting_flag(standard))
    page = paging.paginate_newest_first(rows, "registered_at", cursor, size)
    return Page(tuple(_list_device(device) for device in page.results), page.next_cursor, page.count)


def _list_device(device: Device) -> ListedDevice:
    said: dict[str, Any] = vars(devices.build_device_row(device))
    if device.waits:  # type: ignore[attr-defined]  # annotated above
        return ListedDevice(**said)
    kept = device.kept_state  # type: ignore[attr-defined]  # the other side of the relation
    return ListedDevice(
        **said,
        state=kept.state,
        reasons=tuple(kept.codes),
        reason=kept.reason,
        next_step=kept.next_step,
        due_on=kept.due_on,
    )
