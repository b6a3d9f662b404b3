"""The contributor of a member, made at the first device."""

from __future__ import annotations

from collections.abc import Collection

from django.db.models import Case, CharField, F, Q, QuerySet, Value, When
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, FieldError
from measurements.models import Contributor, Device, NightContributor, PoolVote, PublishedVote, SentVote
from measurements.services.uploads import size_limits

# All guests whom no steward has confirmed count as one person together; no contributor has this key.
UNCONFIRMED = "unconfirmed"


def build_person_key(prefix: str = "") -> Case:
    """Return expression for the key of the person that a contributor is, in a query over what leads to one.

    prefix: path to the contributor, with its two underscores at the end, such as
    `test__device__contributor__`. Accounts and confirmed guests have a key each, `UNCONFIRMED` stands for
    all other guests together, and contributors whom a steward joined share one key.
    """
    vouched = Q(**{f"{prefix}member__isnull": False}) | Q(**{f"{prefix}confirmed_at__isnull": False})
    joined = ~Q(**{f"{prefix}person": ""})
    return Case(
        When(vouched & joined, then=F(f"{prefix}person")),
        When(vouched, then=F(f"{prefix}key")),
        default=Value(UNCONFIRMED),
        output_field=CharField(),
    )


def build_voter_key(prefix: str = "") -> Case:
    """Return expression for the key of the person whose votes a device's tests are.

    prefix: path to the device, such as `test__device__`. A device that changed hands votes for the person
    who had it first, for good: so no handing over ever makes two persons of one. The group's own kit votes
    with the unconfirmed guests, as one person together.
    """
    return Case(
        When(Q(**{f"{prefix}voter__isnull": False}), then=build_person_key(f"{prefix}voter__")),
        default=build_person_key(f"{prefix}contributor__"),
        output_field=CharField(),
    )


def get_person_key(contributor: Contributor) -> str:
    """Read the same of one contributor."""
    if contributor.member_id is None and contributor.confirmed_at is None:
        return UNCONFIRMED
    return contributor.person or contributor.key


def query_person(key: str) -> QuerySet[Contributor]:
    """Return every contributor who is the person of this key, unconfirmed guests aside."""
    return Contributor.objects.annotate(person_key=build_person_key()).filter(person_key=key)


def join_persons(first: Contributor, second: Contributor) -> None:
    """Make two vouched contributors one person, with all who were joined to either. Inside a transaction.

    The second's person key gives way to the first's, here and in the private ledger: the number of persons
    of no set of contributors rises by that. Raises BenchnightError `person.unconfirmed`.
    """
    survivor, other = get_person_key(first), get_person_key(second)
    if UNCONFIRMED in (survivor, other):
        raise BenchnightError(
            "person.unconfirmed",
            "Unconfirmed guests count as one person already. Confirm the guest first.",
            kind="conflict",
        )
    if survivor == other:
        return
    joined = list(query_person(other).values_list("pk", flat=True))
    joined += list(query_person(survivor).values_list("pk", flat=True))
    Contributor.objects.filter(pk__in=joined).update(person=survivor)
    for ledger in _LEDGERS:
        ledger.objects.filter(contributor_key=other).update(contributor_key=survivor)


_LEDGERS = (PublishedVote, PoolVote, SentVote)


def name_devices_in_ledger(devices: Collection[str], person: str) -> None:
    """Write a person's key beside the published votes of devices without a confirmed person behind them.

    Only where that raises no count: in a set where this person has another vote, or where no other
    unconfirmed guest has one. Elsewhere the votes stay unnamed; the rule knows all the same who holds the
    device now (`disclosure.votes.list_known_persons`). Call inside a transaction.
    """
    for ledger, of_set in ((PublishedVote, "cell"), (PoolVote, "pool")):
        unnamed = ledger.objects.filter(contributor_key=UNCONFIRMED)
        own = unnamed.filter(device_key__in=devices)
        for each in own.values_list(of_set, flat=True).distinct():
            same = {of_set: each}
            others = unnamed.filter(**same).exclude(device_key__in=devices).exists()
            if not others or ledger.objects.filter(contributor_key=person, **same).exists():
                own.filter(**same).update(contributor_key=person)


# Two contributors who are one person become one: a guest's devices move to the member who claimed them.
#
# They were one person all along, so the private ledger says so afterwards too: thresholds that counted
# them as two count one from the next release on.


def merge_contributors(guest: Contributor, owner: Contributor) -> int:
    """Return everything of the guest becomes the owner's, and the guest is no more. Inside a transaction."""
    _refuse_same_tags(guest, owner)
    if get_person_key(guest) != UNCONFIRMED:
        join_persons(owner, guest)
    else:
        voting = Q(voter=guest) | Q(voter=None, contributor=guest)
        devices = list(Device.objects.filter(voting).values_list("key", flat=True))
        name_devices_in_ledger(devices, get_person_key(owner))
        if guest.person:  # guests whom another server counts as this same person
            same = Contributor.objects.filter(person=guest.person, member=None, confirmed_at=None)
            same.exclude(pk=guest.pk).update(person=get_person_key(owner))
    moved = guest.devices.update(contributor=owner, version=F("version") + 1)
    guest.voting_devices.update(voter=owner)
    there = NightContributor.objects.filter(contributor=owner).values("night")
    NightContributor.objects.filter(contributor=guest).exclude(night__in=there).update(contributor=owner)
    guest.claim_codes.filter(used_at=None).delete()
    guest.claim_codes.update(contributor=owner)
    guest.bundle_persons.update(contributor=owner)
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


def is_owner(by: Viewer, owner: Contributor) -> bool:
    """Say whether `by` is the owner, or for the group one of its keepers. Stewards own nobody else's."""
    return by.is_keeper if owner.is_group else by.signed_in and owner.member_id == by.member_id


def find_group() -> Contributor | None:
    """Return the same; None while the group owns nothing."""
    return Contributor.objects.filter(is_group=True).first()


def get_or_create_group() -> Contributor:
    """Return the one contributor of the group, and make it when it is missing."""
    return Contributor.objects.get_or_create(is_group=True)[0]


def forget_leaver(leaver: Contributor) -> None:
    """Delete the contributor of an account that goes. Inside a transaction, after its devices.

    Devices that it had handed over keep it, without a name, as the person whose votes they are: their votes
    must not pass to whoever has them now.
    """
    if not leaver.voting_devices.exists():
        leaver.delete()
        return
    leaver.attended.all().delete()
    leaver.claim_codes.all().delete()
    # it was a person by its account; a guest's name or a new person it never becomes
    Contributor.objects.filter(pk=leaver.pk).update(
        member=None, guest_name="", confirmed_at=timezone.now(), confirmed_by=None
    )


def get_or_create_contributor(member_id: int) -> Contributor:
    """Return the member's contributor row, made when it is missing."""
    return Contributor.objects.get_or_create(member_id=member_id)[0]
