"""Watches a design for a member: changes of its verdicts go into the member's private feed."""

from __future__ import annotations

from django.db import transaction

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Design, Release, WatchedDesign
from measurements.services.operations import audit

MOST_WATCHED = 50  # of one account: a feed compares two files of each


def watch_design(*, by: Viewer, design: str) -> None:
    """Watch a design from the present release on; once more changes nothing.

    Raises BenchnightError `design.not_found`, `design.too_many_watched`.
    """
    found = _find_design(by, design)
    newest = Release.objects.order_by("-number").values_list("number", flat=True).first() or 0
    with transaction.atomic():
        others = WatchedDesign.objects.filter(member=by.member_id).exclude(design=found)
        if others.count() >= MOST_WATCHED:
            raise BenchnightError(
                "design.too_many_watched",
                f"You watch {MOST_WATCHED} designs already. Stop watching one of them.",
                kind="conflict",
            )
        _, is_new = WatchedDesign.objects.get_or_create(
            member_id=by.member_id, design=found, defaults={"since": newest}
        )
        if is_new:
            audit.record_action(by=by, action="design.watch", subject=found.key)


def stop_watching_design(*, by: Viewer, design: str) -> None:
    """Stop watching a design; one that is not watched stays so. Raises BenchnightError `design.not_found`."""
    found = _find_design(by, design)
    with transaction.atomic():
        if WatchedDesign.objects.filter(member=by.member_id, design=found).delete()[0]:
            audit.record_action(by=by, action="design.stop_watching", subject=found.key)


def _find_design(by: Viewer, key: str) -> Design:
    policy.check_signed_in(by)
    found = Design.objects.reached(key)
    if found is None:
        raise policy.build_not_found("design")
    return found
