"""Who brings devices to a night: members, and guests without an account who may claim them later."""

from __future__ import annotations

from django.conf import settings
from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import ClaimCode, Contributor, Night, NightContributor
from measurements.services.devices import attendance, contributors
from measurements.services.nights import claim_codes
from measurements.services.operations import audit, use_counts
from measurements.services.operations.audit import WriteResult

HOUR_S = 3600
MOST_NAME = 64
MOST_ATTENDEES = 500  # of one night: far above any bench, far below a flood


def add_attendee(*, by: Viewer, night: str, name: str, same_person: bool | None = None) -> WriteResult:
    """Put somebody on a night's list and return the person's key on that list.

    A name never finds an account: it is a guest's, until its bearer claims it. The same name on the same
    night, whatever its case, is the same person. same_person: whether a guest of this name who came to an
    earlier night is this one, as the operator confirmed; True goes on with that record.
    Raises BenchnightError `guest.name`, `night.closed`; `guest.known_name` where it takes `same_person`.
    """
    found = attendance.get_open_night(by, night)
    with transaction.atomic():
        person, created = ensure_attendee(by, found, name, same_person=same_person)
    return WriteResult(person.key, created=created)


def ensure_attendee(
    by: Viewer, night: Night, name: str, *, same_person: bool | None = None
) -> tuple[NightContributor, bool]:
    """Return the same for who holds the night already. Call inside a transaction."""
    plain = _check_guest_name(name)
    # one guest of a name: whoever writes the night's row first is waited for by the others
    Night.objects.select_for_update().get(pk=night.pk)
    here = _find_attendee_by_name(night, plain)
    if here is not None:
        return here, False
    contributor = _find_earlier_guest(plain, same_person) or Contributor(guest_name=plain)
    if night.attendance.count() >= MOST_ATTENDEES:
        raise BenchnightError(
            "night.too_many", f"A night's list holds up to {MOST_ATTENDEES} people.", kind="too_many"
        )
    if contributor.pk is None:
        contributor.save(force_insert=True)
    person, created = NightContributor.objects.get_or_create(
        night=night, contributor=contributor, defaults={"name": plain}
    )
    if created:
        audit.record_action(by=by, action="night.welcome", subject=night.key, attendee=person.key)
    return person, created


def find_contributor_by_name(night: Night, name: str) -> Contributor | None:
    """Find the attendee of this name on the night's list; None for somebody new. Raises as `add_attendee`."""
    here = _find_attendee_by_name(night, _check_guest_name(name))
    return None if here is None else here.contributor


def issue_claim_code(*, by: Viewer, night: str, contributor_key: str) -> str:
    """Return a new claim code for a guest's card, shown once; the database holds its hash.

    An unused older one is void.

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
    """Return the devices of the guest whose card carries `code` become the viewer's own; answers how many.

    Raises BenchnightError `guest.code_mistyped`, `guest.code_unknown`, `guest.too_many_tries`, and
    `guest.tag_taken` where both have a device of one tag: nothing is moved then.
    """
    policy.check_signed_in(by)
    hashes = claim_codes.list_code_hashes(code)
    _count_claim_attempt(by)
    with transaction.atomic():
        card = (
            ClaimCode.objects.select_related("contributor")
            .filter(code_sha256__in=hashes, used_at=None)
            .first()
        )
        # the conditional UPDATE decides between two who hold the same card
        used = ClaimCode.objects.filter(code_sha256__in=hashes, used_at=None).update(used_at=timezone.now())
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


def _find_attendee_by_name(night: Night, name: str) -> NightContributor | None:
    came = NightContributor.objects.select_related("contributor").filter(night=night).order_by("pk")
    wanted = name.casefold()
    return next((person for person in came if person.name.casefold() == wanted), None)


def _find_earlier_guest(name: str, same_person: bool | None) -> Contributor | None:
    """Return the guest of this name who came last, where the operator confirmed that it is the same
    person.
    """
    if same_person is False:
        return None
    wanted = name.casefold()
    rows = Contributor.objects.filter(member=None).exclude(guest_name="").order_by("-pk")
    key = next((pk for pk, known in rows.values_list("pk", "guest_name") if known.casefold() == wanted), None)
    if key is None:
        return None
    if same_person is None:
        raise BenchnightError(
            "guest.known_name",
            "A guest of this name came to an earlier night. Put the name on the list first, and say whether "
            "it is the same person.",
            kind="conflict",
            field="contributor",
        )
    return Contributor.objects.get(pk=key)
