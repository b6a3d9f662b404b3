"""Hands a device over: to the group, or to a person who says yes. Its tests keep the person who had it first.

Whoever had a device first stays the person whose votes its tests are. So passing devices around gives no
design another person, see `services.devices.contributors.build_voter_key`.
"""

from __future__ import annotations

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import BenchRequest, Contributor, Device, Handover, Member, NightDevice
from measurements.services.devices import contributors, devices
from measurements.services.operations import audit
from measurements.services.uploads import size_limits

MOST_NAME = 64


def offer_device(*, by: Viewer, device: str, to_group: bool = False, name: str = "") -> str:
    """Offer a device to the group or to the account of this name; answers the offer's key.

    A keeper's offer to the group takes effect at once. An offer to a name gets the same answer whether or
    not there is such an account. Raises BenchnightError `device.not_found`, `handover.name`,
    `handover.offered`, `handover.same_owner`, `device.not_owner`, `device.tag_taken`.
    """
    found = devices.get_owned_device(by, device)
    plain = "" if to_group else _check_name(name)
    if to_group and found.contributor.is_group:
        raise BenchnightError("handover.same_owner", "It is the group's already.", kind="conflict")
    receiver = None if to_group else Member.objects.filter(name__iexact=plain, is_active=True).first()
    try:
        with transaction.atomic():
            row = Handover.objects.create(
                device=found, giver=found.contributor, to_group=to_group, name=plain, receiver=receiver
            )
            audit.record_action(by=by, action="device.offer", subject=found.key, to_group=to_group)
            if to_group and by.is_keeper:
                _hand_over(by, row, contributors.get_or_create_group())
    except IntegrityError as error:
        raise BenchnightError(
            "handover.offered", "It is offered already. Take that offer back first.", kind="conflict"
        ) from error
    return row.key


def answer_offer(*, by: Viewer, offer: str, yes: bool) -> str:
    """Take a device over, or decline it; answers the device's key.

    For the account that it was offered to, for the group for its keepers.
    Raises BenchnightError `handover.not_found`, `device.tag_taken`, `device.too_many`.
    """
    policy.check_signed_in(by)
    row = _get_open_offer(offer)
    if not (by.is_keeper if row.to_group else row.receiver_id == by.member_id):
        raise _build_not_found()
    with transaction.atomic():
        if yes:
            member_id = by.member_id
            receiver = (
                contributors.get_or_create_group()
                if row.to_group
                else contributors.get_or_create_contributor(member_id)  # type: ignore[arg-type]  # signed in
            )
            _hand_over(by, row, receiver)
        else:
            _close(row, "no")
            audit.record_action(by=by, action="device.decline", subject=row.device.key)
    return row.device.key


def take_offer_back(*, by: Viewer, device: str) -> None:
    """End the open offer of a device of `by`.

    Raises BenchnightError `device.not_found`, `handover.not_found`.
    """
    found = devices.get_owned_device(by, device)
    with transaction.atomic():
        row = Handover.objects.filter(device=found, answer="").first()
        if row is None:
            raise _build_not_found()
        _close(row, "back")
        audit.record_action(by=by, action="device.keep", subject=found.key)


def _hand_over(by: Viewer, row: Handover, receiver: Contributor) -> None:
    """Move the device. Inside a transaction."""
    device = Device.objects.select_related("contributor").get(pk=row.device_id)
    giver = device.contributor
    if receiver.pk == giver.pk or giver.pk != row.giver_id:
        raise _build_not_found()
    if receiver.devices.filter(tag=device.tag).exists():
        raise BenchnightError(
            "device.tag_taken",
            f"The new owner has a device with the tag {device.tag!r} already. Change the tag of one first.",
            kind="conflict",
            field="tag",
        )
    if receiver.devices.count() >= devices.MOST_DEVICES:
        raise BenchnightError(
            "device.too_many", f"An owner holds up to {devices.MOST_DEVICES} devices.", kind="too_many"
        )
    _close(row, "yes")
    Device.objects.filter(pk=device.pk).update(
        contributor=receiver, voter_id=device.voter_id or giver.pk, version=F("version") + 1
    )
    now = timezone.now()
    # neither the nights nor the requests that the former owner agreed to bind the new one
    NightDevice.objects.filter(device=device, ended_at=None).update(ended_at=now)
    BenchRequest.objects.filter(device=device, answer="").update(device=None)
    for owner in (giver, receiver):
        size_limits.reset_storage_count(owner)
    audit.record_action(by=by, action="device.hand_over", subject=device.key, to_group=receiver.is_group)


def _close(row: Handover, answer: str) -> None:
    """Write the answer; the conditional UPDATE decides between two taps."""
    if not Handover.objects.filter(pk=row.pk, answer="").update(answer=answer, answered_at=timezone.now()):
        raise _build_not_found()


def _get_open_offer(key: str) -> Handover:
    row = Handover.objects.select_related("device").filter(key=key, answer="").first()
    if row is None:
        raise _build_not_found()
    return row


def _build_not_found() -> BenchnightError:
    return BenchnightError("handover.not_found", "There is no such offer to you.", kind="not_found")


def _check_name(name: str) -> str:
    plain = " ".join(name.split())
    if not 1 <= len(plain) <= MOST_NAME or not plain.isprintable():
        raise BenchnightError(
            "handover.name", f"Give the account's name, up to {MOST_NAME} characters.", field="name"
        )
    return plain
