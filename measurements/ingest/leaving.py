"""A member deletes the own account: everything that is theirs goes with it.

Devices go with their tests, files, inspections and photos, at once; the evidence of them goes with the next
release. What stays: releases that others copied, and the audit log, whose lines hold the account's name at
the time and no figure.
"""

from __future__ import annotations

from django.db import transaction
from django.db.models import Count

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import audit, membership
from measurements.models import Contributor, Device, IntakeFile, Member, Test

GONE = "(withdrawn)"


def delete_account(*, by: Viewer, name: str, password: str = "") -> int:
    """Deletes the viewer's own account; answers how many devices went with it.

    name: the account's name, typed again. password: asked for where the account has one.
    Raises BenchnightError `account.name_differs`, `account.password_differs`, `account.last_steward`.
    """
    policy.check_signed_in(by)
    member = Member.objects.get(pk=by.member_id)
    if " ".join(name.split()) != member.name:
        raise BenchnightError(
            "account.name_differs", "Type the account's name as it stands above.", field="name"
        )
    if member.has_usable_password() and not member.check_password(password):
        raise BenchnightError(
            "account.password_differs", "This is not the account's password.", field="password"
        )
    with transaction.atomic():
        membership.keep_a_steward(without=member)
        counts = _counts(member)
        # before the account goes: the line names it as long as it has a name
        audit.note(by=by, action=membership.DELETED, subject=member.name, **counts)
        own = Test.objects.filter(device__contributor__member=member)
        IntakeFile.objects.filter(test__in=own).update(
            name=GONE, assignment={}, raw=b"", raw_sha256="", reason=""
        )
        own.delete()
        Device.objects.filter(contributor__member=member).delete()
        Contributor.objects.filter(member=member).delete()
        member.delete()
    return counts["devices"]


def _counts(member: Member) -> dict[str, int]:
    devices = Device.objects.filter(contributor__member=member)
    return {
        "devices": devices.count(),
        "tests": devices.aggregate(tests=Count("tests"))["tests"],
    }
