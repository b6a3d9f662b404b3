"""Devices as their owner or a steward sees them."""

from __future__ import annotations

from django.db.models import Count, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import Ownership
from measurements.models import Contributor, Device
from measurements.queries import paging
from measurements.queries.rows import DeviceRow, Page


def listing(
    viewer: Viewer, *, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[DeviceRow]:
    """The viewer's own devices, the newest first; all of the group's for a steward."""
    policy.check_signed_in(viewer)
    size = paging.checked_limit(limit)
    rows = _devices()
    if not viewer.is_steward:
        rows = rows.filter(contributor__member=viewer.member_id)
    found, next_cursor = paging.newest_first(rows, "registered_at", cursor, size)
    return Page(tuple(_row(device) for device in found), next_cursor)


def one(viewer: Viewer, key: str) -> DeviceRow:
    """A device. Raises BenchnightError `device.not_found` where this viewer may not see it."""
    policy.check_signed_in(viewer)
    device = _devices().filter(key=key).first()
    if device is None:
        raise policy.missing("device")
    policy.check_see_device(viewer, Ownership(owner_member_id=device.contributor.member_id))
    return _row(device)


def _devices() -> QuerySet[Device]:
    return Device.objects.select_related("design", "contributor__member").annotate(test_count=Count("tests"))


def _row(device: Device) -> DeviceRow:
    return DeviceRow(
        key=device.key,
        design=device.design.key,
        design_title=device.design.title,
        tag=device.tag,
        origin=device.origin,
        built_on=device.built_on,
        notes=device.notes,
        registered_at=device.registered_at,
        version=device.version,
        owner=owner_name(device.contributor),
        tests=device.test_count,  # type: ignore[attr-defined]  # annotated above
    )


def owner_name(contributor: Contributor) -> str:
    """Whose it is, for those who may know."""
    return contributor.member.name if contributor.member is not None else contributor.guest_name
