"""Who had access to a device on which night, and who asks for one: for its owner and stewards."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Count, Q

from measurements.disclosure import policy
from measurements.disclosure.policy import Ownership
from measurements.disclosure.viewers import Viewer
from measurements.models import BenchRequest, Device, NightDevice, NightOperator, Test
from measurements.selectors.devices import owners


@dataclass(frozen=True)
class AccessRow:
    """An access of a night's operators. open: they have it now. how: registered, label or owner.

    operators: all who run the night. opened_by: who opened the device, "" where the account is gone.
    tests: how many tests of the device were made on that night.
    """

    night_on: date
    operators: tuple[str, ...]
    opened_by: str
    how: str
    since: datetime
    until: datetime | None
    open: bool
    ended_by_owner: bool
    tests: int


@dataclass(frozen=True)
class RequestRow:
    """An operator asks to test a device on a night."""

    key: str
    device: str
    device_tag: str
    night_on: date
    asked_by: str
    asked_at: datetime


def list_accesses(viewer: Viewer, device: str) -> tuple[AccessRow, ...]:
    """Return every access there was, the newest first. Raises BenchnightError `device.not_found`."""
    policy.check_signed_in(viewer)
    found = Device.objects.select_related("contributor").filter(key=device).first()
    if found is None:
        raise policy.build_not_found("device")
    owner = found.contributor
    policy.check_see_device(viewer, Ownership(owner.member_id, of_group=owner.is_group))
    rows = list(NightDevice.objects.filter(device=found).select_related("night", "opened_by").order_by("-pk"))
    live = set(NightDevice.objects.live().filter(device=found).values_list("pk", flat=True))
    operators = _list_operators({row.night_id for row in rows})
    made = dict(
        Test.objects.filter(device=found, night__isnull=False)
        .order_by()
        .values_list("night")
        .annotate(n=Count("pk"))
    )
    return tuple(
        AccessRow(
            night_on=row.night.held_on,
            operators=operators.get(row.night_id, ()),
            opened_by="" if row.opened_by is None else row.opened_by.name,
            how=row.opened_how,
            since=row.brought_at,
            until=row.ended_at,
            open=row.pk in live,
            ended_by_owner=row.ended_by_owner,
            tests=made.get(row.night_id, 0),
        )
        for row in rows
    )


def list_requests(viewer: Viewer, device: str | None = None) -> tuple[RequestRow, ...]:
    """Return requests for the viewer's own devices that wait for an answer, the oldest first; of one when
    asked.
    """
    policy.check_signed_in(viewer)
    asked = BenchRequest.objects.filter(
        owners.build_owner_filter(viewer, "device__"), answer="", night__closed_at=None
    )
    if device is not None:
        asked = asked.filter(device__key=device)
    rows = asked.select_related("device", "night", "asked_by").order_by("pk")
    return tuple(
        RequestRow(
            key=row.key,
            device=row.device.key,
            device_tag=row.device.tag,
            night_on=row.night.held_on,
            asked_by="" if row.asked_by is None else row.asked_by.name,
            asked_at=row.asked_at,
        )
        for row in rows
        if row.device is not None
    )


def list_open_devices(viewer: Viewer) -> tuple[tuple[str, str], ...]:
    """Return key and tag of the viewer's own devices that operators have on a bench now, by tag."""
    policy.check_signed_in(viewer)
    live = NightDevice.objects.live().filter(device__contributor__member=viewer.member_id)
    # what the viewer brought to an own bench is no news
    others = live.filter(~Q(opened_by=viewer.member_id))
    return tuple(sorted(set(others.values_list("device__key", "device__tag")), key=lambda row: row[1]))


def _list_operators(nights: Iterable[int]) -> dict[int, tuple[str, ...]]:
    found: dict[int, tuple[str, ...]] = {}
    rows = NightOperator.objects.filter(night__in=nights).order_by("member__name")
    for night, name in rows.values_list("night", "member__name"):
        found[night] = (*found.get(night, ()), name)
    return found
