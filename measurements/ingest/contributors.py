"""The contributor that stands for a member; made at the first device."""

from __future__ import annotations

from measurements.models import Contributor


def of_member(member_id: int) -> Contributor:
    """The member's contributor row, made when it is missing."""
    return Contributor.objects.get_or_create(member_id=member_id)[0]
