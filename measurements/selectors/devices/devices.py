"""Devices as their owner or a steward sees them, and what an operator sees of one on the bench."""

from __future__ import annotations

from dataclasses import dataclass, replace
from datetime import date, datetime

from django.db.models import Count, Exists, OuterRef, Q, QuerySet, Subquery
from django.db.models.functions import Coalesce

from measurements.disclosure import policy
from measurements.disclosure.policy import Ownership
from measurements.disclosure.viewers import Viewer
from measurements.models import Contributor, Device, Loan, NightDevice, NightOperator, Test
from measurements.models.read_once import read_once
from measurements.selectors.devices import owners


@dataclass(frozen=True)
class DeviceRow:
    """A device as its owner or a steward sees it; on the bench, its tag and design alone.

    design: None while its build is not known. place: where it is in service; never in evidence. retired_on:
    out of service for good. kind, ratio, make: what its owner wrote of an unknown build. lent_to, lent_on:
    who has it now and since when, empty where it is not lent.
    """

    key: str
    design: str | None
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
    kind: str = ""
    ratio: str = ""
    make: str = ""
    of_group: bool = False
    lent_to: str = ""
    lent_on: date | None = None


def list_own_devices(viewer: Viewer) -> tuple[DeviceRow, ...]:
    """Return the viewer's own devices, and the group's to its keepers, the newest first; all of them."""
    policy.check_signed_in(viewer)
    own = query_counted_devices(viewer).filter(owners.build_owner_filter(viewer))
    return tuple(build_device_row(device) for device in own.order_by("-registered_at", "-pk"))


@read_once
def get_device(viewer: Viewer, key: str) -> DeviceRow:
    """Return a device. Raises BenchnightError `device.not_found` where this viewer may not see it."""
    policy.check_signed_in(viewer)
    device = query_counted_devices(viewer).filter(key=key).first()
    if device is None:
        raise policy.build_not_found("device")
    policy.check_see_device(viewer, get_device_ownership(device))
    return build_device_row(device)


@read_once
def get_device_on_bench(viewer: Viewer, key: str) -> DeviceRow:
    """Return the same; for an operator who has it on the bench its tag, origin and design, and no more.

    Raises BenchnightError `device.not_found` where it is neither theirs nor on their bench.
    """
    policy.check_signed_in(viewer)
    device = query_counted_devices(viewer).filter(key=key).first()
    if device is None:
        raise policy.build_not_found("device")
    ownership = get_device_ownership(device)
    policy.check_see_device_on_bench(viewer, ownership)
    row = build_device_row(device)
    if policy.can_see_device(viewer, ownership):
        return row
    brought = NightDevice.objects.live().filter(device=device, night__staff__member=viewer.member_id)
    first = brought.order_by("brought_at").first()
    since = device.registered_at if first is None else first.brought_at
    # whose it is, the label of a member's device does not tell; the group's kit is the group's
    guest = "" if device.contributor.member is not None else format_owner_name(device.contributor)
    return replace(
        row,
        built_on=None,
        notes="",
        place="",
        retired_on=None,
        kind="",
        ratio="",
        make="",
        lent_to="",
        lent_on=None,
        version=0,
        owner=guest,
        registered_at=since,
    )


def get_device_ownership(device: Device) -> Ownership:
    """Return the owner of a device, and the operators on whose bench it is now."""
    operators = NightOperator.objects.of_device(device.pk)
    owner = device.contributor
    return Ownership(owner.member_id, night_operator_ids=operators, of_group=owner.is_group)


def build_device_visibility(viewer: Viewer) -> Q:
    """Return which rows of Device the viewer may see: the same as `ownership` and `policy.can_see_device`
    say.
    """
    if viewer.is_steward:
        return Q()
    return owners.build_owner_filter(viewer)


def query_counted_devices(viewer: Viewer) -> QuerySet[Device]:
    """Return devices with how many tests of each the viewer may see: an operator those made on own nights."""
    counted: Count | Subquery | Coalesce = Count("tests")
    if viewer.is_operator and not viewer.is_steward:
        here = NightDevice.objects.live().filter(
            night=OuterRef("night"), device=OuterRef("device"), night__staff__member=viewer.member_id
        )
        seen = Test.objects.filter(
            Exists(here) | owners.build_owner_filter(viewer, "device__"), device=OuterRef("pk")
        )
        per_device = seen.order_by().values("device").annotate(n=Count("pk")).values("n")
        counted = Coalesce(Subquery(per_device), 0)
    loan = Loan.objects.filter(device=OuterRef("pk"), returned_on=None)
    return Device.objects.select_related("design", "contributor__member").annotate(
        test_count=counted,
        lent_to=Subquery(loan.values("borrower")[:1]),
        lent_on=Subquery(loan.values("lent_on")[:1]),
    )


def build_device_row(device: Device) -> DeviceRow:
    return DeviceRow(
        key=device.key,
        design=None if device.design is None else device.design.key,
        design_title=owners.format_build(device),
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
        kind=device.kind,
        ratio=device.ratio,
        make=device.make,
        of_group=device.contributor.is_group,
        lent_to=device.lent_to or "",  # type: ignore[attr-defined]  # annotated above
        lent_on=device.lent_on,  # type: ignore[attr-defined]
    )


def format_owner_name(contributor: Contributor) -> str:
    """Return the owner's name for viewers who may know it."""
    if contributor.is_group:
        return owners.THE_GROUP
    return contributor.member.name if contributor.member is not None else contributor.guest_name
