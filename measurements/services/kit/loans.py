"""Lends devices and takes them back: who has one, since when. A loan changes neither owner nor votes."""

from __future__ import annotations

from datetime import date, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Loan, Member
from measurements.services.devices import devices
from measurements.services.operations import audit

MOST_NAME = 64
LEAVER = "somebody who left"


def lend_device(*, by: Viewer, device: str, borrower: str, lent_on: date | None = None) -> str:
    """Note who has a device of `by` from `lent_on` (None: today) on; answers the loan's key.

    Raises BenchnightError `device.not_found`, `loan.borrower`, `loan.lent_on`, `loan.lent`.
    """
    found = devices.get_own_device(by, device)
    plain = " ".join(borrower.split())
    if not 1 <= len(plain) <= MOST_NAME or not plain.isprintable():
        raise BenchnightError(
            "loan.borrower", f"Say who has it in up to {MOST_NAME} characters.", field="borrower"
        )
    since = _check_day(lent_on, "lent_on")
    try:
        with transaction.atomic():
            row = Loan.objects.create(device=found, borrower=plain, lent_on=since, lent_by_id=by.member_id)
            audit.record_action(by=by, action="device.lend", subject=found.key)
    except IntegrityError as error:
        raise BenchnightError(
            "loan.lent", "It is lent already. Note its return first.", kind="conflict"
        ) from error
    return row.key


def return_device(*, by: Viewer, device: str, returned_on: date | None = None) -> None:
    """Note that a lent device is back. Raises BenchnightError `device.not_found`, `loan.returned_on`,
    `loan.not_lent`.
    """
    found = devices.get_own_device(by, device)
    day = _check_day(returned_on, "returned_on")
    with transaction.atomic():
        row = Loan.objects.filter(device=found, returned_on=None).first()
        if row is not None and day < row.lent_on:
            raise BenchnightError(
                "loan.returned_on", "It cannot be back before it was lent.", field="returned_on"
            )
        # the conditional UPDATE decides between two taps
        if not Loan.objects.filter(device=found, returned_on=None).update(returned_on=day):
            raise BenchnightError("loan.not_lent", "It is not lent.", kind="conflict")
        audit.record_action(by=by, action="device.return", subject=found.key)


def forget_borrower(member: Member) -> None:
    """Take the name of an account that goes out of every loan. Inside a transaction."""
    Loan.objects.filter(borrower__iexact=member.name).update(borrower=LEAVER)


def _check_day(day: date | None, field: str) -> date:
    """Return the day, today for None; whoever is ahead of the group may already write tomorrow's date."""
    today = timezone.localdate()
    found = day or today
    if not date(1900, 1, 1) <= found <= today + timedelta(days=1):
        raise BenchnightError(f"loan.{field}", "Give a date that is not in the future.", field=field)
    return found
