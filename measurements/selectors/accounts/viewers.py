"""From the account of a request to the viewer that every read and write asks for."""

from __future__ import annotations

from typing import Any

from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.models import Member


def get_viewer(user: Any) -> Viewer:
    """Return the viewer behind Django's `request.user`; nobody, where no active account is signed in."""
    if isinstance(user, Member) and user.is_active:
        return Viewer(member_id=user.pk, name=user.name, role=user.role, keeps_kit=user.keeps_kit)
    return ANONYMOUS


def find_first_steward() -> Viewer | None:
    """Return the steward who joined first, for what is done for all of them; None where there is none."""
    members = Member.objects.filter(role=Member.Role.STEWARD, is_active=True)
    member = members.order_by("joined_at", "pk").first()
    return None if member is None else get_viewer(member)


def find_viewer(name: str) -> Viewer | None:
    """Return the viewer of an account by its name; None where there is no active one."""
    member = Member.objects.filter(name=name, is_active=True).first()
    return None if member is None else get_viewer(member)


def find_viewer_by_id(member_id: int | None) -> Viewer | None:
    """Return the viewer of an account by its row; None where there is no active one."""
    member = Member.objects.filter(pk=member_id, is_active=True).first()
    return None if member is None else get_viewer(member)
