"""The groups of a pool that this server keeps: invited by a code, admitted under their key, set aside."""

from __future__ import annotations

import secrets
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import KeptGroup, KeptInvitation, KeptRecord
from measurements.models.keys import ALPHABET
from measurements.services.bundles import signing
from measurements.services.operations import audit
from measurements.services.operations.audit import parse_justification
from measurements.services.operations.secret_hashes import hash_secret, list_hashes
from measurements.services.pooling import envelopes, transport
from measurements.services.pooling.seats import MOST_NAME, Invitation

LIFE = timedelta(days=30)
CODE_CHARACTERS = 24  # 30**24 is 117 bits: nobody guesses one


def invite_group(*, by: Viewer | None, address: str, name: str) -> Invitation:
    """Make an invitation for one group. by: a steward, or None for a command on the server.

    address: where groups reach this server. Raises BenchnightError `pool.name`, `pool.address`.
    """
    if by is not None:
        policy.check_steward(by)
    called = " ".join(name.split())
    if not 1 <= len(called) <= MOST_NAME or not called.isprintable():
        raise BenchnightError("pool.name", f"Name the group in up to {MOST_NAME} characters.", field="name")
    invitation = Invitation(
        transport.check_address(address),
        signing.get_public_key(),
        "".join(secrets.choice(ALPHABET) for _ in range(CODE_CHARACTERS)),
    )
    with transaction.atomic():
        made = KeptInvitation.objects.create(
            code_sha256=hash_secret(invitation.code), name=called, expires_at=timezone.now() + LIFE
        )
        audit.record_action(by=by, action="pool.invite", subject=str(made.pk))
    return invitation


def answer_group(sealed: bytes) -> bytes:
    """Admit a group by its code, or let it leave; answers a signed reply.

    Raises BenchnightError of `open_envelope`, `pool.code`, `pool.unknown_group`, `pool.other_keeper`.
    """
    given = envelopes.open_envelope(sealed, envelopes.JOIN)
    check_for_this_keeper(given.content)
    number = _let_go(given) if given.content.get("leave") is True else _admit(given)
    return envelopes.seal({"form": 1, "group": given.key, "number": number}, envelopes.REPLY)


def check_for_this_keeper(content: dict[str, Any]) -> None:
    """Refuse what was signed for another keeper. Raises BenchnightError `pool.other_keeper`."""
    if content.get("keeper") != signing.get_public_key():
        raise BenchnightError("pool.other_keeper", "This was made for another keeper.", kind="conflict")


def _admit(given: envelopes.Envelope) -> int:
    code, name = given.content.get("code"), given.content.get("name")
    if not isinstance(code, str) or not isinstance(name, str):
        raise _build_code_error()
    called = " ".join(name.split())[:MOST_NAME]
    with transaction.atomic():
        known = KeptGroup.objects.select_for_update().filter(key=given.key).first()
        if known is not None and known.left_at is None:
            return known.last_number  # the reply to its first request was lost
        now = timezone.now()
        open_codes = KeptInvitation.objects.filter(
            code_sha256__in=list_hashes(code), used_at=None, expires_at__gt=now
        )
        if not open_codes.update(used_at=now):
            raise _build_code_error()
        label = called if called and called.isprintable() else "a group without a name"
        if known is None:
            known = KeptGroup.objects.create(key=given.key, name=label)
        else:
            KeptGroup.objects.filter(pk=known.pk).update(left_at=None, name=label)
        audit.record_action(by=None, action="pool.admit", subject=given.key[:16])
    return known.last_number


def _build_code_error() -> BenchnightError:
    return BenchnightError(
        "pool.code", "This code is not known, used already or older than 30 days. Ask for another one."
    )


def _let_go(given: envelopes.Envelope) -> int:
    """Withdraw all records of a group. What was published stays, as where a person leaves."""
    with transaction.atomic():
        group = KeptGroup.objects.select_for_update().filter(key=given.key).first()
        if group is None:
            raise envelopes.build_stranger_error()
        if group.left_at is None and given.content.get("after") == group.last_number:
            KeptGroup.objects.filter(pk=group.pk).update(left_at=timezone.now(), last_sha256="")
            withdraw_records(group)
            audit.record_action(by=None, action="pool.let_go", subject=given.key[:16])
    return group.last_number


def withdraw_records(group: KeptGroup, keep: frozenset[str] = frozenset()) -> int:
    """Forget the figures of every record of a group but these votes; answers how many were withdrawn."""
    standing = KeptRecord.objects.filter(group=group, withdrawn=False).values_list("pk", "vote")
    gone = [pk for pk, vote in standing if vote not in keep]
    for start in range(0, len(gone), 500):
        some = KeptRecord.objects.filter(pk__in=gone[start : start + 500])
        some.update(withdrawn=True, bands={}, curve=b"", u_class="", quarter="")
    return len(gone)


def set_group_aside(*, by: Viewer | None, key: str, reason: str) -> None:
    """Leave a group's votes out of every release from the next one on.

    Raises BenchnightError `pool.unknown_group`, `pool.reason`.
    """
    if by is not None:
        policy.check_steward(by)
    why = parse_justification(reason, "reason", "pool.reason", "Say why the group is set aside.")
    _change_aside(by, key, "pool.set_aside", aside_at=timezone.now(), aside_reason=why[:300])


def take_group_back(*, by: Viewer | None, key: str) -> None:
    """Let a group's votes count again from the next release on.

    Raises BenchnightError `pool.unknown_group`.
    """
    if by is not None:
        policy.check_steward(by)
    _change_aside(by, key, "pool.take_back", aside_at=None, aside_reason="")


def _change_aside(by: Viewer | None, key: str, action: str, **values: Any) -> None:
    with transaction.atomic():
        found = KeptGroup.objects.filter(key__startswith=key) if len(key) >= 8 else KeptGroup.objects.none()
        if found.count() != 1:
            raise BenchnightError(
                "pool.unknown_group", "There is no such group, or this is not enough of its key.", field="key"
            )
        found.update(**values)
        audit.record_action(by=by, action=action, subject=key[:16])
