"""Who brings devices to a night: members, and guests without an account who may claim them later."""

from __future__ import annotations

from django.db import transaction

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import audit, contributors, night_access
from measurements.ingest.stored import Stored
from measurements.models import Contributor, Member, Night, NightContributor

MOST_NAME = 64
MOST_ATTENDEES = 500  # of one night: far above any bench, far below a flood


def welcome(*, by: Viewer, night: str, name: str) -> Stored:
    """Puts somebody on a night's list and answers the key that stands for the person there.

    The name of an account makes that member come; any other name is a guest of this night. The same name
    on the same night, whatever its case, is the same person. A guest is known to the night's operators and
    to stewards only. Raises BenchnightError `guest.name`, `guest.suspended`, `night.closed`.
    """
    found = night_access.still_open(by, night)
    with transaction.atomic():
        person, created = attending(by, found, name)
    return Stored(person.key, created=created)


def attending(by: Viewer, night: Night, name: str) -> tuple[NightContributor, bool]:
    """The same for who holds the night already. Call inside a transaction."""
    plain = _plain(name)
    member = _member_named(plain)
    if member is not None:
        contributor = contributors.of_member(member.pk)
    else:
        # one guest of a name: whoever writes the night's row first is waited for by the others
        Night.objects.select_for_update().get(pk=night.pk)
        contributor = _guest_named(night, plain) or Contributor(guest_name=plain)
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
        audit.note(by=by, action="night.welcome", subject=night.key, attendee=person.key)
    return person, created


def issue_claim_code(*, by: Viewer, night: str, contributor_key: str) -> str:
    """A new code for a guest's card, shown once: only its hash is kept. An unused older one is void."""
    raise NotImplementedError


def claim(*, by: Viewer, code: str) -> int:
    """The devices of the guest whose card carries `code` become the viewer's own; answers how many."""
    raise NotImplementedError


def _plain(name: str) -> str:
    plain = " ".join(name.split())
    if not 1 <= len(plain) <= MOST_NAME or not plain.isprintable():
        raise BenchnightError(
            "guest.name",
            f"Give a name of up to {MOST_NAME} characters by which the operators know this person.",
            field="contributor",
        )
    return plain


def _member_named(name: str) -> Member | None:
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


def _guest_named(night: Night, name: str) -> Contributor | None:
    came = Contributor.objects.filter(attended__night=night, member=None)
    wanted = name.casefold()
    return next((guest for guest in came if guest.guest_name.casefold() == wanted), None)
