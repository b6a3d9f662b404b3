"""What this server is in a pool: a group with a seat and a copy, a keeper, both or neither."""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Any

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.models import (
    KeptGroup,
    KeptRecord,
    KeptRelease,
    Member,
    PoolCopy,
    PoolSeat,
    SentVote,
)


@dataclass(frozen=True)
class CopyRow:
    """The pooled release that this group shows. groups: of the pool; designs: with figures for everybody."""

    number: int
    made_at: datetime
    fetched_at: datetime
    groups: int
    designs: int


@dataclass(frozen=True)
class KeeperRow:
    """The pool that this server keeps. release: number of the newest, None before the first."""

    groups: int
    release: int | None


@dataclass(frozen=True)
class PoolState:
    """What everybody may know: whether the group is in a pool, the copy it shows, the pool it keeps."""

    in_pool: bool
    copy: CopyRow | None
    keeps: KeeperRow | None


@dataclass(frozen=True)
class SeatRow:
    """What stewards see of the group's seat. standing: what the keeper said of this group alone."""

    keeper_address: str
    keeper_key: str
    source: str
    group_name: str
    joined_at: datetime
    last_sent_at: datetime | None
    last_problem: str
    standing: dict[str, Any]
    members: int
    taking_part: int
    votes: int
    gained: dict[str, int]


@dataclass(frozen=True)
class KeptGroupRow:
    """A group of the pool, for its keeper."""

    key: str
    name: str
    joined_at: datetime
    left_at: datetime | None
    aside_at: datetime | None
    aside_reason: str
    last_taken_at: datetime | None
    votes: int

    def describe_state(self) -> str:
        """Describe it in a few words."""
        if self.left_at is not None:
            return "left"
        if self.aside_at is not None:
            return f"set aside: {self.aside_reason}"
        return f"{self.votes} votes" if self.last_taken_at is not None else "has not sent yet"


def get_pool_state() -> PoolState:
    """Get what everybody may know of this server's part in a pool."""
    groups = KeptGroup.objects.filter(left_at=None).count()
    newest = KeptRelease.objects.order_by("-number").values_list("number", flat=True).first()
    keeps = KeeperRow(groups, newest) if groups or newest else None
    return PoolState(PoolSeat.objects.filter(is_open=True).exists(), get_copy(), keeps)


def get_copy() -> CopyRow | None:
    """Get the pooled release that this group shows; None where it fetched none."""
    copy = PoolCopy.objects.order_by("-number").first()
    if copy is None:
        return None
    counts = copy.manifest.get("counts", {})
    return CopyRow(
        copy.number,
        copy.made_at,
        copy.fetched_at,
        int(counts.get("groups", 0)),
        int(counts.get("designs", 0)),
    )


def get_seat(viewer: Viewer) -> SeatRow | None:
    """Get the group's seat, for stewards; None where it is in no pool."""
    policy.check_steward(viewer)
    seat = PoolSeat.objects.filter(is_open=True).first()
    if seat is None:
        return None
    active = Member.objects.filter(is_active=True)
    copy = PoolCopy.objects.order_by("-number").first()
    return SeatRow(
        seat.keeper_address,
        seat.keeper_key,
        seat.source,
        seat.group_name,
        seat.joined_at,
        seat.last_sent_at,
        seat.last_problem,
        seat.standing,
        active.count(),
        active.filter(in_pool=True).count(),
        SentVote.objects.filter(standing=True).count(),
        copy.gained if copy else {},
    )


def list_kept_groups(viewer: Viewer | None = None) -> tuple[KeptGroupRow, ...]:
    """List the groups of the pool that this server keeps. viewer: a steward, or None for a command."""
    if viewer is not None:
        policy.check_steward(viewer)
    counts: dict[int, int] = {}
    for group in KeptRecord.objects.filter(withdrawn=False).values_list("group_id", flat=True).iterator():
        counts[group] = counts.get(group, 0) + 1
    return tuple(
        KeptGroupRow(
            row.key,
            row.name,
            row.joined_at,
            row.left_at,
            row.aside_at,
            row.aside_reason,
            row.last_taken_at,
            counts.get(row.pk, 0),
        )
        for row in KeptGroup.objects.order_by("name", "pk")
    )


def get_choice(viewer: Viewer) -> tuple[bool, bool]:
    """Get whether the group is in a pool, and whether this member chose that own votes go there."""
    policy.check_signed_in(viewer)
    chosen = Member.objects.filter(pk=viewer.member_id).values_list("in_pool", flat=True).first()
    return PoolSeat.objects.filter(is_open=True).exists(), bool(chosen)
