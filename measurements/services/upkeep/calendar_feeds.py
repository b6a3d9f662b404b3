"""Secret addresses under which a calendar fetches what is due; made, used and taken back."""

from __future__ import annotations

import secrets

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import CalendarFeed, Member
from measurements.services.operations import audit, disk_room, secret_hashes

MOST_FEEDS = 10
MOST_LABEL = 64


def create_calendar_feed(*, by: Viewer, label: str = "", of_group: bool = False) -> str:
    """Return a new secret for an address of `by`; it appears this once; the database holds its hash.

    of_group: it lists the group's kit, as long as `by` keeps it.
    Raises BenchnightError `feed.too_many`, `feed.label`, `account.keepers_only`.
    """
    policy.check_signed_in(by)
    if of_group:
        policy.check_keeper(by)
    said = " ".join(label.split())
    if len(said) > MOST_LABEL or not said.isprintable():
        raise BenchnightError("feed.label", f"Keep it under {MOST_LABEL} characters.", field="label")
    secret = secrets.token_urlsafe(32)
    with transaction.atomic():
        if CalendarFeed.objects.filter(member_id=by.member_id).count() >= MOST_FEEDS:
            raise BenchnightError(
                "feed.too_many",
                f"An account has up to {MOST_FEEDS} calendar addresses. Revoke one first.",
                kind="too_many",
            )
        CalendarFeed.objects.create(
            member_id=by.member_id,
            secret_sha256=secret_hashes.hash_secret(secret),
            label=said,
            of_group=of_group,
        )
        audit.record_action(by=by, action="feed.make", subject=by.name)
    return secret


def revoke_calendar_feed(*, by: Viewer, feed: str) -> None:
    """End an address at once. feed: its name in `selectors.upkeep.due_devices`.

    Raises BenchnightError `feed.not_found`.
    """
    policy.check_signed_in(by)
    rows = CalendarFeed.objects.filter(member_id=by.member_id)
    found = next((row for row in rows if row.name == feed), None)
    if found is None:
        raise BenchnightError("feed.not_found", "There is no such address of yours.", kind="not_found")
    with transaction.atomic():
        CalendarFeed.objects.filter(pk=found.pk).delete()
        audit.record_action(by=by, action="feed.revoke", subject=by.name)


def open_calendar_feed(*, secret: str) -> tuple[Viewer, bool]:
    """Find the owner of this address and note the day of its use, once a day.

    Raises BenchnightError `feed.not_found` for an unknown or revoked one, and of an account that is shut.
    """
    feed = (
        CalendarFeed.objects.select_related("member")
        .filter(secret_sha256__in=secret_hashes.list_hashes(secret))
        .first()
    )
    if feed is None or not feed.member.is_active or (feed.of_group and not _keeps_kit(feed.member)):
        raise BenchnightError(
            "feed.not_found", "There is no such calendar, or not any more.", kind="not_found"
        )
    today = timezone.localdate()
    if feed.last_used_on != today:
        with disk_room.ignore_full_disk():
            CalendarFeed.objects.filter(pk=feed.pk).update(last_used_on=today)
    member: Member = feed.member
    # what a calendar shows is what its owner owns, whatever role the account has
    return Viewer(member.pk, member.name, "member", keeps_kit=feed.of_group), feed.of_group


def _keeps_kit(member: Member) -> bool:
    return member.keeps_kit or member.role == Member.Role.STEWARD
