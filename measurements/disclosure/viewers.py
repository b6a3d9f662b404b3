"""Who is asking, and which circle of readers that puts them in.

A `Viewer` is what every door hands down: `by=` of a write and `viewer` of a read. Two circles read
evidence (the word "public" and the word "members"); roles beyond that decide about accounts, devices
and nights and live in `policy.py`.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

Role = Literal["anonymous", "member", "operator", "steward"]
Circle = Literal["public", "members"]


@dataclass(frozen=True)
class Viewer:
    """One person at a door.

    member_id: the account's id; None exactly when nobody is signed in.
    name: the account's name, for the audit and the greeting; empty when nobody is signed in.
    role: what the group lets this person do. Operators and stewards are members too.
    keeps_kit: a steward let this person keep the group's kit.

    Raises ValueError when id and role contradict each other: a half signed-in viewer is a defect of
    the door, and letting it through would make it somebody.
    """

    member_id: int | None
    name: str
    role: Role
    keeps_kit: bool = False

    def __post_init__(self) -> None:
        if (self.member_id is None) != (self.role == "anonymous"):
            raise ValueError("A viewer has an id exactly when signed in.")

    @property
    def signed_in(self) -> bool:
        return self.member_id is not None

    @property
    def is_operator(self) -> bool:
        """Return may run club nights: operators, and stewards who may do all that operators may."""
        return self.role in ("operator", "steward")

    @property
    def is_steward(self) -> bool:
        return self.role == "steward"

    @property
    def is_keeper(self) -> bool:
        """Say whether the group's kit is theirs to see and edit: kit keepers and stewards."""
        return self.keeps_kit or self.is_steward


ANONYMOUS = Viewer(member_id=None, name="", role="anonymous")


def get_circle(viewer: Viewer) -> Circle:
    """Return the circle whose share of the evidence `viewer` may read: signed in or not, nothing else.

    Operators and stewards see evidence as any member does: a role is no reason to see a cell that
    is withheld, because a withheld cell is withheld from the release itself.
    """
    return "members" if viewer.signed_in else "public"
