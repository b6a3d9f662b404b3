"""Devices as their owner, the operators of a night they were brought to, or a steward sees them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Exists, OuterRef, Q, QuerySet

from measurements.disclosure import policy
from measurements.disclosure.policy import Ownership
from measurements.disclosure.viewers import Viewer
from measurements.models import Contributor, Device, NightDevice, NightOperator
from measurements.selectors import paging
from measurements.selectors.paging import Page


@dataclass(frozen=True)
class DeviceRow:
    """A device as its owner, the operator of its night or a steward sees it.

    place: where it is in service; never in evidence. retired_on: out of service for good.
    """

    key: str
    design: str
    design_title: str
    tag: str
    origin: str
    built_on: date | None
    notes: str
    registered_at: datetime
    version: int
    owner: str
    tests: int
    place: str
    retired_on: date | None


def list_devices(
    viewer: Viewer, *, cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[DeviceRow]:
    """The viewer's own devices, the newest first.

    For an operator also those that were brought to own nights, for a steward all.
    """
    policy.check_signed_in(viewer)
    size = paging.check_limit(limit)
    rows = _counted_devices(viewer).filter(build_device_visibility(viewer))
    found, next_cursor = paging.paginate_newest_first(rows, "registered_at", cursor, size)
    return Page(tuple(_device_row(device) for device in found), next_cursor)


def get_device(viewer: Viewer, key: str) -> DeviceRow:
    """A device. Raises BenchnightError `device.not_found` where this viewer may not see it."""
    policy.check_signed_in(viewer)
    device = _counted_devices(viewer).filter(key=key).first()
    if device is None:
        raise policy.build_not_found("device")
    policy.check_see_device(viewer, get_device_ownership(device))
    return _device_row(device)


def get_device_ownership(device: Device) -> Ownership:
    """Whose a device is, and who ran the nights it was brought to."""
    operators = NightOperator.objects.of_device(device.pk)
    return Ownership(owner_member_id=device.contributor.member_id, night_operator_ids=operators)


def build_device_visibility(viewer: Viewer) -> Q:
    """Which rows of Device the viewer may see: the same as `ownership` and `policy.can_see_device` say."""
    if viewer.is_steward:
        return Q()
    own = Q(contributor__member=viewer.member_id)
    if not viewer.is_operator:
        return own
    return own | Q(
        Exists(NightDevice.objects.filter(device=OuterRef("pk"), night__staff__member=viewer.member_id))
    )


def _counted_devices(viewer: Viewer) -> QuerySet[Device]:
    """Devices with how many tests of each the viewer may see: an operator those made on own nights."""
    seen = Q()
    if not viewer.is_steward:
        seen = Q(contributor__member=viewer.member_id)
        if viewer.is_operator:
            seen |= Q(tests__night__staff__member=viewer.member_id)
    counted = Count("tests", filter=seen, distinct=True) if seen else Count("tests")
    return Device.objects.select_related("design", "contributor__member").annotate(test_count=counted)


def _device_row(device: Device) -> DeviceRow:
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
        owner=format_owner_name(device.contributor),
        tests=device.test_count,  # type: ignore[attr-defined]  # annotated above
        place=device.place,
        retired_on=device.retired_on,
    )


def format_owner_name(contributor: Contributor) -> str:
    """Whose it is, for those who may know."""
    return contributor.member.name if contributor.member is not None else contributor.guest_name
