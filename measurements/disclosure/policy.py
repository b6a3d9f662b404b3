"""Who may see and alter what belongs to somebody: `can_x` asks, `check_x` raises.

Where it is private that a thing exists at all (devices, tests, nights), the answer to the wrong person is
the answer to a wrong address: `not_found`, word for word what `missing` says of a thing that is not there.
Evidence is not decided here but by circles and releases: nobody's role opens a withheld cell.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Literal

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError

OwnedThing = Literal["device", "test", "night", "intake"]


@dataclass(frozen=True)
class Ownership:
    """Whose a device or test is.

    owner_member_id: the owner's account; None for a guest, for the group, and after the account is gone.
    night_operator_ids: accounts of the operators who have the device on their night's bench now (of a test:
    of the night it was made on); empty outside nights, and once that access has ended.
    of_group: it is the group's: its keepers are its owners.
    """

    owner_member_id: int | None
    night_operator_ids: frozenset[int] = frozenset()
    of_group: bool = False


@dataclass(frozen=True)
class NightStaff:
    """The operators of one club night."""

    operator_ids: frozenset[int]


def build_not_found(thing: OwnedThing) -> BenchnightError:
    """Return the one answer for a thing that is not there, and for one that is not the viewer's to know
    of.
    """
    return BenchnightError(f"{thing}.not_found", f"There is no such {thing} of yours.", kind="not_found")


# Signing in and roles.


def check_signed_in(viewer: Viewer) -> None:
    if not viewer.signed_in:
        raise BenchnightError("sign_in.required", "Sign in first, or send your API token.", kind="forbidden")


def check_operator(viewer: Viewer) -> None:
    check_signed_in(viewer)
    if not viewer.is_operator:
        raise BenchnightError(
            "account.operators_only",
            "Only operators run club nights. A steward can make you one.",
            kind="forbidden",
        )


def check_steward(viewer: Viewer) -> None:
    """Accounts, reference data, thresholds, excluding a test from evidence, making a release."""
    check_signed_in(viewer)
    if not viewer.is_steward:
        raise BenchnightError(
            "account.stewards_only", "Only stewards do this. Ask one of your group.", kind="forbidden"
        )


def check_keeper(viewer: Viewer) -> None:
    """Refuse whoever may not register kit of the group or take kit over for it.

    Raises BenchnightError `account.keepers_only`, `sign_in.required`.
    """
    check_signed_in(viewer)
    if not viewer.is_keeper:
        raise BenchnightError(
            "account.keepers_only",
            "Only kit keepers and stewards do this. A steward can make you a keeper.",
            kind="forbidden",
        )


# Devices and tests. A test belongs to whoever owns its device.


def can_see_device(viewer: Viewer, ownership: Ownership) -> bool:
    """Return its owner and stewards, for the group's its keepers: its place, notes and every test of it."""
    return viewer.is_steward or _is_owner(viewer, ownership)


def check_see_device(viewer: Viewer, ownership: Ownership) -> None:
    if not can_see_device(viewer, ownership):
        raise build_not_found("device")


def can_see_device_on_bench(viewer: Viewer, ownership: Ownership) -> bool:
    """Return they, and the operators on whose bench it lies: these see its tag and design alone."""
    return can_see_device(viewer, ownership) or _ran_night_of(viewer, ownership)


def check_see_device_on_bench(viewer: Viewer, ownership: Ownership) -> None:
    if not can_see_device_on_bench(viewer, ownership):
        raise build_not_found("device")


def can_alter_device(viewer: Viewer, ownership: Ownership) -> bool:
    """Return its owner and stewards: an operator tests a device and alters nothing of it."""
    return can_see_device(viewer, ownership)


def check_alter_device(viewer: Viewer, ownership: Ownership) -> None:
    if not can_alter_device(viewer, ownership):
        raise build_not_found("device")


def can_see_test(viewer: Viewer, ownership: Ownership) -> bool:
    """Return the owner of its device, stewards, and the night's operators while it lies on their bench."""
    return can_see_device(viewer, ownership) or _ran_night_of(viewer, ownership)


def check_see_test(viewer: Viewer, ownership: Ownership) -> None:
    if not can_see_test(viewer, ownership):
        raise build_not_found("test")


def can_withdraw_test(viewer: Viewer, ownership: Ownership) -> bool:
    """Return the owner of its device and stewards: an operator who swept badly sweeps again."""
    return can_see_device(viewer, ownership)


def check_withdraw_test(viewer: Viewer, ownership: Ownership) -> None:
    if not can_withdraw_test(viewer, ownership):
        raise build_not_found("test")


def can_publish_test(viewer: Viewer, ownership: Ownership) -> bool:
    """Say who chooses whether a test counts as evidence: its owner, for the group's its keepers."""
    return _is_owner(viewer, ownership)


def check_publish_test(viewer: Viewer, ownership: Ownership) -> None:
    if not can_publish_test(viewer, ownership):
        raise build_not_found("test")


def can_record_test(viewer: Viewer, ownership: Ownership, night: NightStaff | None = None) -> bool:
    """Return the owner of the device, stewards, and the operators of the night on which it is made."""
    if can_see_device(viewer, ownership):
        return True
    return night is not None and _runs_night(viewer, night.operator_ids)


def check_record_test(viewer: Viewer, ownership: Ownership, night: NightStaff | None = None) -> None:
    """`device.not_found` where this viewer may not know of the device."""
    check_signed_in(viewer)
    if not can_record_test(viewer, ownership, night):
        raise build_not_found("device")


# Club nights.


def can_see_night(viewer: Viewer, night: NightStaff) -> bool:
    """Return its own operators and stewards: a night lists guests by name."""
    return viewer.is_steward or _runs_night(viewer, night.operator_ids)


def check_see_night(viewer: Viewer, night: NightStaff) -> None:
    if not can_see_night(viewer, night):
        raise build_not_found("night")


def can_alter_night(viewer: Viewer, night: NightStaff) -> bool:
    """Return the same: its jig, its intakes, and the contributors it names."""
    return can_see_night(viewer, night)


def check_alter_night(viewer: Viewer, night: NightStaff) -> None:
    if not can_alter_night(viewer, night):
        raise build_not_found("night")


def _is_owner(viewer: Viewer, ownership: Ownership) -> bool:
    if ownership.of_group:
        return viewer.is_keeper
    # Both can be None (nobody signed in, a guest's device): that is not ownership.
    return viewer.member_id is not None and viewer.member_id == ownership.owner_member_id


def _ran_night_of(viewer: Viewer, ownership: Ownership) -> bool:
    return _runs_night(viewer, ownership.night_operator_ids)


def _runs_night(viewer: Viewer, operator_ids: frozenset[int]) -> bool:
    """Return named as an operator there, and still one: a role that was taken away takes this with it."""
    return viewer.is_operator and viewer.member_id in operator_ids
