"""Joins a pool, leaves it, and keeps each member's own choice. An invitation holds address, key and code."""

from __future__ import annotations

import re
from dataclasses import dataclass

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Member, PoolCopy, PoolSeat, SentVote, group_facts
from measurements.services.operations import audit
from measurements.services.pooling import envelopes, sendings, transport

# address#key.code
_INVITATION = re.compile(r"(?P<address>\S{8,200})#(?P<key>[0-9a-f]{64})\.(?P<code>[2-9a-hjkmnp-tv-z]{24})")
MOST_NAME = 64


@dataclass(frozen=True)
class Invitation:
    """What a steward needs of the keeper: its address, its public key and a code for one group."""

    address: str
    key: str
    code: str

    def __str__(self) -> str:
        """Give the one line that is passed on."""
        return f"{self.address}#{self.key}.{self.code}"


def read_invitation(text: str) -> Invitation:
    """Read the line that the keeper gave. Raises BenchnightError `pool.invitation`, `pool.address`."""
    found = _INVITATION.fullmatch("".join(text.split()))
    if found is None:
        raise BenchnightError(
            "pool.invitation",
            "This is no invitation to a pool. Paste the whole line that the keeper gave you.",
            field="invitation",
        )
    return Invitation(transport.check_address(found["address"]), found["key"], found["code"])


def join_pool(
    *, by: Viewer | None, invitation: str, group_name: str = "", post: transport.Post | None = None
) -> PoolSeat:
    """Join a pool as this group. Nothing is sent before the group's next release.

    Raises BenchnightError `pool.joined_already`, `pool.name`, those of `read_invitation` and of `post`.
    """
    _check_steward(by)
    given = read_invitation(invitation)
    name = " ".join((group_name or group_facts.get_group_name()).split())
    if not 1 <= len(name) <= MOST_NAME or not name.isprintable():
        raise BenchnightError(
            "pool.name", f"Name the group in up to {MOST_NAME} characters.", field="group_name"
        )
    if sendings.get_open_seat() is not None:
        raise _build_joined_error()
    sealed = envelopes.seal(
        {"form": 1, "keeper": given.key, "code": given.code, "name": name}, envelopes.JOIN
    )
    reply = (post or transport.post)(transport.build_address(given.address, "groups"), sealed)
    number = envelopes.open_envelope(reply, envelopes.REPLY, key=given.key).content.get("number")
    try:
        with transaction.atomic():
            seat = PoolSeat.objects.create(
                keeper_address=given.address,
                keeper_key=given.key,
                group_name=name,
                # a group that comes back goes on counting its sendings
                last_number=number if isinstance(number, int) and 0 <= number < 2**31 else 0,
            )
            audit.record_action(by=by, action="pool.join", subject=given.key[:16])
    except IntegrityError as error:
        raise _build_joined_error() from error
    return seat


def _build_joined_error() -> BenchnightError:
    return BenchnightError(
        "pool.joined_already", "This group is in a pool already. Leave that one first.", kind="conflict"
    )


def leave_pool(*, by: Viewer | None, post: transport.Post | None = None) -> None:
    """Leave the pool: every vote is withdrawn there, then the seat is closed and the copy forgotten.

    Raises BenchnightError `pool.no_seat`, `pool.unreachable`: the seat then stays, so that nothing is left
    behind at the keeper without anybody to withdraw it.
    """
    _check_steward(by)
    seat = sendings.get_open_seat()
    if seat is None:
        raise BenchnightError("pool.no_seat", "This group is in no pool.", kind="conflict")
    sealed = envelopes.seal(
        {"form": 1, "keeper": seat.keeper_key, "leave": True, "after": seat.last_number}, envelopes.JOIN
    )
    reply = (post or transport.post)(transport.build_address(seat.keeper_address, "groups"), sealed)
    envelopes.open_envelope(reply, envelopes.REPLY, key=seat.keeper_key)
    with transaction.atomic():
        PoolSeat.objects.filter(pk=seat.pk).update(is_open=False, left_at=timezone.now(), standing={})
        SentVote.objects.filter(standing=True).update(standing=False)
        PoolCopy.objects.all().delete()
        audit.record_action(by=by, action="pool.leave", subject=seat.keeper_key[:16])


def _check_steward(by: Viewer | None) -> None:
    """Let stewards in, and commands on the server (None)."""
    if by is not None:
        policy.check_steward(by)


def set_source(*, by: Viewer | None, source: str) -> None:
    """Fetch pooled releases from this address from now on; empty: from the keeper.

    Raises BenchnightError `pool.no_seat`, `pool.address`.
    """
    _check_steward(by)
    checked = transport.check_address(source) if source.strip() else ""
    if not PoolSeat.objects.filter(is_open=True).update(source=checked):
        raise BenchnightError("pool.no_seat", "This group is in no pool.", kind="conflict")


def choose_pool(*, by: Viewer, takes_part: bool) -> None:
    """Set whether the own published votes also go to the pool. It acts from the group's next release on."""
    policy.check_signed_in(by)
    with transaction.atomic():
        changed = Member.objects.filter(pk=by.member_id).exclude(in_pool=takes_part)
        if changed.update(in_pool=takes_part):
            action = "pool.choose" if takes_part else "pool.choose_not"
            audit.record_action(by=by, action=action, subject=by.name)
