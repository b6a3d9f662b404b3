"""Finds the night that somebody wants to work on, and lets in those who run it."""

from __future__ import annotations

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import NightStaff
from measurements.errors import BenchnightError
from measurements.models import Night, NightContributor, NightOperator


def run_by(by: Viewer, key: str) -> Night:
    """The night, when `by` runs it.

    Raises BenchnightError `night.not_found` otherwise, whether or not it exists; for who is no operator
    at all `account.operators_only`.
    """
    policy.check_operator(by)
    night = Night.objects.filter(key=key).first()
    if night is None:
        raise policy.missing("night")
    policy.check_alter_night(by, staff(night))
    return night


def still_open(by: Viewer, key: str) -> Night:
    """The same, for what only an open night takes. Raises also BenchnightError `night.closed`."""
    night = run_by(by, key)
    if night.closed_at is not None:
        raise BenchnightError(
            "night.closed", "This night is closed. Open it again to add to it.", kind="conflict"
        )
    return night


def staff(night: Night) -> NightStaff:
    """Who runs it."""
    return NightStaff(NightOperator.objects.of_night(night.pk))


def attendee(night: Night, key: str) -> NightContributor:
    """Who came, by the key of this night. Raises BenchnightError `night.nobody`."""
    found = (
        NightContributor.objects.select_related("contributor__member").filter(night=night, key=key).first()
    )
    if found is None:
        raise BenchnightError(
            "night.nobody",
            "Nobody of this key is on this night's list.",
            kind="not_found",
            field="contributor",
        )
    return found
