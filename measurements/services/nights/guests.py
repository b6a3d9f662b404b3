"""Who brings devices to a night: members, and guests without an account who may claim them later."""

from __future__ import annotations

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import ClaimCode, Contributor, Member, Night, NightContributor
from measurements.services.devices import attendance, contributors
from measurements.services.nights import claim_codes
from measurements.services.operations import audit, use_counts
from measurements.services.operations.audit import WriteResult

HOUR_S = 3600
MOST_NAME = 64
MOST_ATTENDEES = 500  # of one night: far above any bench, far below a flood


def add_attendee(*, by: Viewer, night: str, name: str) -> WriteResult:
    """Puts somebody on a night's list and answers the key that stands for the person there.

    The name of an account makes that member come; any other name is a guest of this night. The same name
    on the same night, whatever its case, is the same person. A guest is known to the night's operators and
    to stewards only. Raises BenchnightError `guest.name`, `guest.suspended`, `night.closed`.
    """
    found = attendance.get_open_night(by, night)
    with transaction.atomic():
        person, created = ensure_attendee(by, found, name)
    return WriteResult(person.key, created=created)


def ensure_attendee(by: Viewer, night: Night, name: str) -> tuple[NightContributor, bool]:
    """The same for who holds the night already. Call inside a transaction."""
    plain = _check_guest_name(name)
    member = _find_member_by_name(plain)
    if member is not None:
        contributor = contributors.get_or_create_contributor(member.pk)
    else:
        # one guest of a name: whoever writes the night's row first is waited for by the others
        Night.objects.select_for_update().get(pk=night.pk)
        contributor = _find_guest_by_name(night, plain) or Contributor(guest_name=plain)
    known = None
    if contributor.pk is not None:
        known = NightContributor.objects.filter(night=night, contributor=contributor).first()
    if known is not None:
        return known, False
    if night.attendance.count() >= MOST_ATTENDEES:
        raise BenchnightError(
            "night.too_many", f"A night's list holds up to {MOST_ATTENDEES} people.", kind="too_many"
        )
    if contributor.pk is None:
        contributor.save(force_insert=True)
    person, created = NightContributor.objects.get_or_create(night=night, contributor=contributor)
    if created:
        audit.record_action(by=by, action="night.welcome", subject=night.key, attendee=person.key)
    return person, created


def find_contributor_by_name(night: Night, name: str) -> Contributor | None:
    """Who is called so: the member of that account, or the night's guest; None for a new guest.

    Raises BenchnightError as `welcome`.
    """
    plain = _check_guest_name(name)
    member = _find_member_by_name(plain)
    if member is not None:
        return Contributor.objects.filter(member=member).first()
    return _find_guest_by_name(night, plain)


def issue_claim_code(*, by: Viewer, night: str, contributor_key: str) -> str:
    """A new claim code for a guest's card, shown once: only its hash is kept. An unused older one is void.

    contributor_key: as the night's list has it. Raises BenchnightError `guest.is_member`, `night.nobody`.
    """
    found = attendance.get_night_for_staff(by, night)
    person = attendance.get_attendee(found, contributor_key)
    if person.contributor.member_id is not None:
        raise BenchnightError(
            "guest.is_member", "This is a member; the devices are in the account already.", kind="conflict"
        )
    code = claim_codes.generate_code()
    with transaction.atomic():
        ClaimCode.objects.filter(contributor=person.contributor, used_at=None).delete()
        ClaimCode.objects.create(contributor=person.contributor, code_sha256=claim_codes.hash_code(code))
        audit.record_action(by=by, action="guest.issue_code", subject=found.key, attendee=person.key)
    return code


def claim_guest_devices(*, by: Viewer, code: str) -> int:
    """The devices of the guest whose card carries `code` become the viewer's own; answers how many.

    Raises BenchnightError `guest.code_mistyped`, `guest.code_unknown`, `guest.too_many_tries`, and
    `guest.tag_taken` where both have a device of one tag: nothing is moved then.
    """
    policy.check_signed_in(by)
    digest = claim_codes.hash_code(code)
    _count_claim_attempt(by)
    with transaction.atomic():
        card = (
            ClaimCode.objects.select_related("contributor").filter(code_sha256=digest, used_at=None).first()
        )
        # the conditional UPDATE decides between two who hold the same card
        used = ClaimCode.objects.filter(code_sha256=digest, used_at=None).update(used_at=timezone.now())
        if card is None or not used:
            raise BenchnightError(
                "guest.code_unknown",
                "This code is unknown, used already, or was replaced by a newer card. Ask whoever ran the "
                "night for a new one.",
                kind="not_found",
                field="code",
            )
        owner = contributors.get_or_create_contributor(by.member_id)  # type: ignore[arg-type]  # signed in
        moved = contributors.merge_contributors(card.contributor, owner)
        audit.record_action(by=by, action="guest.claim", subject=by.name, devices=moved)
    return moved


def _count_claim_attempt(by: Viewer) -> None:
    limit = settings.BENCHNIGHT_CLAIMS_PER_HOUR
    counted = use_counts.count_use(f"claims:{by.member_id}", limit=limit, window_s=HOUR_S)
    if not counted.allowed:
        raise BenchnightError(
            "guest.too_many_tries",
            f"An account may try {limit} codes an hour. Try again in {counted.reset_s // 60 + 1} min.",
            kind="too_many",
            field="code",
            wait_s=counted.reset_s,
        )


def _check_guest_name(name: str) -> str:
    plain = " ".join(name.split())
    if not 1 <= len(plain) <= MOST_NAME or not plain.isprintable():
        raise BenchnightError(
            "guest.name",
            f"Give a name of up to {MOST_NAME} characters by which the operators know this person.",
            field="contributor",
        )
    return plain


def _find_member_by_name(name: str) -> Member | None:
    """The account of this name; its case decides only where two accounts differ in nothing else."""
    alike = list(Member.objects.filter(name__iexact=name)[:3])
    exact = [member for member in alike if member.name == name]
    found = exact or (alike if len(alike) == 1 else [])
    if not found:
        return None
    if not found[0].is_active:
        raise BenchnightError(
            "guest.suspended",
            "The account of this name is suspended. Ask a steward, or write the guest's name otherwise.",
            field="contributor",
        )
    return found[0]


def _find_guest_by_name(night: Night, name: str) -> Contributor | None:
    came = Contributor.objects.filter(attended__night=night, member=None)
    wanted = name.casefold()
    return next((guest for guest in came if guest.guest_name.casefold() == wanted), None)
