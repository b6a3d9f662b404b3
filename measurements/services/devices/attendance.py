"""Opens devices to a night's operators: by the key on the label, or by the owner's yes.

An operator tests what lies on the bench and sees its design and this night's tests. The owner sees who had
access when, and ends it. A name and a tag alone open nothing, and tell nothing.
"""

from __future__ import annotations

import re

from django.db import transaction
from django.db.models import Q
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.policy import NightStaff
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import (
    BenchRequest,
    Contributor,
    Device,
    Night,
    NightContributor,
    NightDevice,
    NightOperator,
)
from measurements.services.devices import contributors
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult

LABEL = re.compile(r"(?:^|/(?:bench|devices)/)([a-z0-9]{12})/?$")
MOST_REQUESTS = 200  # of one night
MOST_TEXT = 64
GROUP_NAMES = ("the group", "group")  # as an operator may write the owner of the group's kit

# Finds the night that somebody wants to work on, and lets in those who run it.


def get_night_for_staff(by: Viewer, key: str) -> Night:
    """Return the night, when `by` runs it.

    Raises BenchnightError `night.not_found` otherwise, whether or not it exists; for who is no operator
    at all `account.operators_only`.
    """
    policy.check_operator(by)
    night = Night.objects.filter(key=key).first()
    if night is None:
        raise policy.build_not_found("night")
    policy.check_alter_night(by, get_night_staff(night))
    return night


def get_open_night(by: Viewer, key: str) -> Night:
    """Return the same, for what only an open night takes. Raises also BenchnightError `night.closed`."""
    night = get_night_for_staff(by, key)
    if night.closed_at is not None:
        raise BenchnightError(
            "night.closed", "This night is closed. Open it again to add to it.", kind="conflict"
        )
    return night


def get_night_staff(night: Night) -> NightStaff:
    """List the operators of the night."""
    return NightStaff(NightOperator.objects.of_night(night.pk))


def get_attendee(night: Night, key: str) -> NightContributor:
    """Find an attendee by the key of this night. Raises BenchnightError `night.nobody`."""
    found = (
        NightContributor.objects.select_related("contributor__member").filter(night=night, key=key).first()
    )
    if found is None:
        raise BenchnightError(
            "night.nobody",
            "Nobody of this key is on this night's list.",
            kind="not_found",
            field="contributor",
        )
    return found


def open_device_by_label(*, by: Viewer, night: str, label: str) -> WriteResult:
    """Put a device on a night's bench by the key on its label, or the address that its code holds.

    Raises BenchnightError `device.not_found` for an unknown key, and where its owner ended the access.
    """
    found = get_open_night(by, night)
    device = find_device_by_label(label)
    if device is None:
        raise policy.build_not_found("device")
    with transaction.atomic():
        return WriteResult(device.key, created=record_device_brought(by, found, device))


def find_device_by_label(label: str) -> Device | None:
    """Return the device whose key this is, or whose label's address; None where it is neither."""
    key = LABEL.search(label.strip())
    if key is None:
        return None
    devices = Device.objects.select_related("contributor", "design")
    return devices.filter(Q(key=key.group(1)) | Q(codes__code=key.group(1))).first()


def record_device_brought(
    by: Viewer, night: Night, device: Device, how: NightDevice.How = NightDevice.How.LABEL
) -> bool:
    """Open a device to a night's operators; whether it was closed to them. Call inside a transaction.

    Raises BenchnightError `device.not_found` where its owner ended their access: it takes a yes after that.
    """
    if NightDevice.objects.live().filter(night=night, device=device).exists():
        return False
    ended = NightDevice.objects.filter(night=night, device=device, ended_by_owner=True)
    if how == NightDevice.How.LABEL and ended.exists():
        raise policy.build_not_found("device")
    # one that time has ended gives way to the new one
    NightDevice.objects.filter(night=night, device=device, ended_at=None).update(ended_at=timezone.now())
    _, new = NightDevice.objects.get_or_create(
        night=night, device=device, ended_at=None, defaults={"opened_by_id": by.member_id, "opened_how": how}
    )
    if new:
        audit.record_action(by=by, action="night.bring", subject=device.key, night=night.key, how=how)
    return new


def find_device_on_bench(night: Night, owner: Contributor, tag: str) -> Device | None:
    """Return the owner's device of this tag, where it is on the night's bench now; else None."""
    here = NightDevice.objects.live().filter(night=night).values("device")
    plain = " ".join(tag.split())
    alike = list(
        owner.devices.filter(pk__in=here, tag__iexact=plain).select_related("contributor", "design")[:3]
    )
    exact = [device for device in alike if device.tag == plain]
    found = exact or (alike if len(alike) == 1 else [])
    return found[0] if found else None


# An operator asks; the owner answers on the device's page.


def request_device(*, by: Viewer, night: str, name: str, tag: str) -> str:
    """Ask whoever has an account of this name whether the night may test the device of this tag.

    The request stays and the operator gets the same answer whether or not there is such an account
    or device. Answers its key. Raises BenchnightError `request.name`, `request.tag`, `night.too_many`.
    """
    found = get_open_night(by, night)
    name, tag = _check_text("name", name), _check_text("tag", tag)
    if found.requests.count() >= MOST_REQUESTS:
        raise BenchnightError(
            "night.too_many", f"A night holds up to {MOST_REQUESTS} requests.", kind="too_many"
        )
    of_account = Q(contributor__member__name__iexact=name, contributor__member__is_active=True)
    if name.casefold() in GROUP_NAMES:
        of_account |= Q(contributor__is_group=True)
    meant = list(Device.objects.filter(of_account, tag__iexact=tag)[:2])
    with transaction.atomic():
        row = BenchRequest.objects.create(
            night=found,
            name=name,
            tag=tag,
            device=meant[0] if len(meant) == 1 else None,
            asked_by_id=by.member_id,
        )
        audit.record_action(by=by, action="night.request", subject=found.key, request=row.key)
    return row.key


def answer_request(*, by: Viewer, request: str, yes: bool) -> str:
    """Let a night test the device, or not; answers the device's key.

    Raises BenchnightError `request.not_found` where it is not a request for a device of `by`, or is answered.
    """
    policy.check_signed_in(by)
    missing = BenchnightError("request.not_found", "There is no such request to you.", kind="not_found")
    rows = BenchRequest.objects.select_related("device__contributor", "night")
    row = rows.filter(key=request, answer="", night__closed_at=None).first()
    if row is None or row.device is None or not contributors.is_owner(by, row.device.contributor):
        raise missing
    with transaction.atomic():
        # the conditional UPDATE decides between two taps
        if not BenchRequest.objects.filter(pk=row.pk, answer="").update(
            answer="yes" if yes else "no", answered_at=timezone.now()
        ):
            raise missing
        audit.record_action(by=by, action="device.answer", subject=row.device.key, yes=yes)
        if yes:
            record_device_brought(by, row.night, row.device, NightDevice.How.OWNER)
            if not row.device.contributor.is_group:
                NightContributor.objects.get_or_create(
                    night=row.night, contributor_id=row.device.contributor_id, defaults={"name": row.name}
                )
    return row.device.key


def end_access(*, by: Viewer, device: str) -> int:
    """End every night's access to a device of `by`; answers how many there were.

    The nights cannot open it by its label again. Raises BenchnightError `device.not_found`.
    """
    policy.check_signed_in(by)
    found = Device.objects.select_related("contributor").filter(key=device).first()
    if found is None or not policy.can_alter_device(
        by, policy.Ownership(found.contributor.member_id, of_group=found.contributor.is_group)
    ):
        raise policy.build_not_found("device")
    with transaction.atomic():
        ended = NightDevice.objects.filter(device=found, ended_at=None).update(
            ended_at=timezone.now(), ended_by_owner=True
        )
        audit.record_action(by=by, action="device.end_access", subject=found.key, ended=ended)
    return ended


def end_access_of_night(night: Night) -> None:
    """End a closed night's access to members' devices; guests' stay for their cards. In a transaction."""
    open_rows = NightDevice.objects.filter(night=night, ended_at=None)
    guests = Q(device__contributor__member=None, device__contributor__is_group=False)
    open_rows.exclude(guests).update(ended_at=timezone.now())


def _check_text(field: str, text: str) -> str:
    plain = " ".join(text.split())
    if not 1 <= len(plain) <= MOST_TEXT or not plain.isprintable():
        raise BenchnightError(
            f"request.{field}", f"Give the {field}, up to {MOST_TEXT} characters.", field=field
        )
    return plain
