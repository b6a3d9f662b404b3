"""Accounts as stewards see them."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime

from django.db.models import Count, Q
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CodeApp, Member, Passkey, SignInLink, token_table
from measurements.selectors import paging
from measurements.selectors.paging import Page


@dataclass(frozen=True)
class MemberRow:
    """An account. tokens: how many are in force. link_until: of a one-time link that waits to be used."""

    name: str
    role: str
    active: bool
    has_password: bool
    joined_at: datetime
    devices: int
    tokens: int
    link_until: datetime | None
    keeps_kit: bool = False
    has_second_factor: bool = False


def list_members(
    viewer: Viewer, *, text: str = "", cursor: str | None = None, limit: int = paging.DEFAULT_LIMIT
) -> Page[MemberRow]:
    """Return accounts by name, those whose name holds `text`."""
    policy.check_steward(viewer)
    size = paging.check_limit(limit)
    position = paging.decode_cursor(cursor, after=str)
    rows = Member.objects.order_by("name")
    if text:
        rows = rows.filter(name__icontains=text)
    if position is not None:
        rows = rows.filter(name__gt=position["after"])
    found = list(rows[: size + 1])
    following = paging.encode_cursor({"after": found[size - 1].name}) if len(found) > size else None
    return Page(_member_rows(found[:size]), following)


def get_member(viewer: Viewer, name: str) -> MemberRow:
    """Return an account. Raises BenchnightError `account.not_found`."""
    policy.check_steward(viewer)
    member = Member.objects.filter(name=name).first()
    if member is None:
        raise BenchnightError("account.not_found", "There is no account of this name.", kind="not_found")
    return _member_rows([member])[0]


def count_members(viewer: Viewer) -> int:
    """Count the accounts that can act, whatever their role."""
    policy.check_steward(viewer)
    return Member.objects.filter(is_active=True).count()


def count_stewards(viewer: Viewer) -> int:
    """Count the stewards that can act."""
    policy.check_steward(viewer)
    return Member.objects.filter(role=Member.Role.STEWARD, is_active=True).count()


def _member_rows(members: list[Member]) -> tuple[MemberRow, ...]:
    """Build the rows with four queries, whatever their number."""
    now, pks = timezone.now(), [member.pk for member in members]
    devices = dict(
        Member.objects.filter(pk__in=pks)
        .annotate(owned=Count("contributor__devices"))
        .values_list("pk", "owned")
    )
    in_force = (
        token_table.get_token_manager().filter(Q(expiry=None) | Q(expiry__gt=now), user__in=pks).order_by()
    )
    tokens = dict(in_force.values_list("user").annotate(count=Count("pk")))
    links = SignInLink.objects.filter(member__in=pks, used_at=None, expires_at__gt=now).order_by("expires_at")
    until = dict(links.values_list("member", "expires_at"))
    keyed = Passkey.objects.filter(member__in=pks).order_by().values_list("member")
    secured = {pk for (pk,) in keyed.union(CodeApp.objects.filter(member__in=pks).values_list("member"))}
    return tuple(
        MemberRow(
            name=member.name,
            role=member.role,
            active=member.is_active,
            has_password=member.has_usable_password(),
            joined_at=member.joined_at,
            devices=devices[member.pk],
            tokens=tokens.get(member.pk, 0),
            link_until=until.get(member.pk),
            keeps_kit=member.keeps_kit,
            has_second_factor=member.pk in secured,
        )
        for member in members
    )
