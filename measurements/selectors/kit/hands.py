"""In whose hands a device is: offers that wait for an answer, loans, and the group's kit by place."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import date, datetime

from django.db.models import Q

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import Handover, Loan
from measurements.selectors.devices import devices


@dataclass(frozen=True)
class OfferRow:
    """A device that waits for somebody's yes. name: to whom, "" for the group. owner: who gives it."""

    key: str
    device: str
    device_tag: str
    to_group: bool
    name: str
    owner: str
    offered_at: datetime


@dataclass(frozen=True)
class LoanRow:
    """Who had a device, since when, until when (None: still)."""

    key: str
    borrower: str
    lent_on: date
    returned_on: date | None
    lent_by: str


def list_offers(viewer: Viewer) -> tuple[OfferRow, ...]:
    """Return offers to the viewer, and of a kit keeper those to the group; the oldest first."""
    policy.check_signed_in(viewer)
    to_viewer = Q(receiver=viewer.member_id)
    if viewer.is_keeper:
        to_viewer |= Q(to_group=True)
    return _offer_rows(to_viewer)


def get_open_offer(viewer: Viewer, device: str) -> OfferRow | None:
    """Return the offer of a device that waits; None where there is none.

    Raises BenchnightError `device.not_found`.
    """
    devices.get_device(viewer, device)
    return next(iter(_offer_rows(Q(device__key=device))), None)


def list_loans(viewer: Viewer, device: str) -> tuple[LoanRow, ...]:
    """Return its loans, the newest first, at most 100. Raises BenchnightError `device.not_found`."""
    devices.get_device(viewer, device)
    rows = Loan.objects.filter(device__key=device).select_related("lent_by").order_by("-lent_on", "-pk")
    return tuple(
        LoanRow(
            row.key,
            row.borrower,
            row.lent_on,
            row.returned_on,
            "" if row.lent_by is None else row.lent_by.name,
        )
        for row in rows[:100]
    )


def _offer_rows(which: Q) -> tuple[OfferRow, ...]:
    rows = Handover.objects.filter(which, answer="").select_related("device__contributor__member")
    return tuple(
        OfferRow(
            key=row.key,
            device=row.device.key,
            device_tag=row.device.tag,
            to_group=row.to_group,
            name=row.name,
            owner=devices.format_owner_name(row.device.contributor),
            offered_at=row.offered_at,
        )
        for row in rows.order_by("pk")
    )
