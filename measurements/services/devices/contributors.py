"""The contributor that stands for a member; made at the first device."""

from __future__ import annotations

from django.db.models import F

from measurements.errors import BenchnightError, FieldError
from measurements.models import Contributor, NightContributor, PublishedVote
from measurements.services.uploads import size_limits

# Two contributors who are one person become one: a guest's devices move to the member who claimed them.
#
# They were one person all along, so the private ledger says so afterwards too: thresholds that counted
# them as two count one from the next release on.


def merge_contributors(guest: Contributor, owner: Contributor) -> int:
    """Everything of the guest becomes the owner's, and the guest is no more. Inside a transaction."""
    _refuse_same_tags(guest, owner)
    moved = guest.devices.update(contributor=owner, version=F("version") + 1)
    PublishedVote.objects.filter(contributor_key=guest.key).update(contributor_key=owner.key)
    there = NightContributor.objects.filter(contributor=owner).values("night")
    NightContributor.objects.filter(contributor=guest).exclude(night__in=there).update(contributor=owner)
    guest.claim_codes.filter(used_at=None).delete()
    guest.claim_codes.update(contributor=owner)
    guest.delete()
    size_limits.reset_storage_count(owner)
    return moved


def _refuse_same_tags(guest: Contributor, owner: Contributor) -> None:
    own = owner.devices.values("tag")
    same = sorted(guest.devices.filter(tag__in=own).values_list("tag", flat=True))
    if not same:
        return
    raise BenchnightError(
        "guest.tag_taken",
        "You have devices of your own with the same tags. Write another tag on yours and change it on its "
        "page, then claim again; the code stays good.",
        kind="conflict",
        field="code",
        errors=tuple(
            FieldError("guest.tag_taken", f"Both have a device with the tag {tag!r}.", "code") for tag in same
        ),
    )


def get_or_create_contributor(member_id: int) -> Contributor:
    """The member's contributor row, made when it is missing."""
    return Contributor.objects.get_or_create(member_id=member_id)[0]
