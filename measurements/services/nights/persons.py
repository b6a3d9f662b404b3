"""Stewards say who is a person: they confirm guests who came, and join contributors who are one person."""

from __future__ import annotations

from collections.abc import Collection

from django.db import transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import BundleMark, BundlePerson, Contributor, Night, NightContributor
from measurements.services.devices import contributors
from measurements.services.operations import audit


def confirm_guests(*, by: Viewer, night: str, attendees: Collection[str] | None = None) -> int:
    """Confirm that guests of a night came: each counts as a person from the next release on.

    attendees: keys on the night's list; None for the whole list. Answers how many were confirmed now. A guest
    who came in a bundle waits until the server of that bundle counts the guest too.
    Raises BenchnightError `account.stewards_only`, `night.not_found`, `night.nobody`.
    """
    policy.check_steward(by)
    found = Night.objects.filter(key=night).first()
    if found is None:
        raise policy.build_not_found("night")
    came = NightContributor.objects.filter(night=found)
    if attendees is not None:
        came = came.filter(key__in=attendees)
        if came.count() != len(set(attendees)):
            raise BenchnightError(
                "night.nobody", "Somebody of these is not on this night's list.", kind="not_found"
            )
    with transaction.atomic():
        # a guest of another server's night is confirmed where the night was held first
        from_bundle = came.filter(key__in=BundleMark.objects.filter(table="attendance").values("key"))
        waiting = from_bundle.filter(
            contributor__in=BundlePerson.objects.filter(confirmed_there=False).values("contributor")
        )
        guests = Contributor.objects.filter(pk__in=came.values("contributor"), member=None, confirmed_at=None)
        guests = guests.exclude(pk__in=waiting.values("contributor"))
        found_guests = list(guests.prefetch_related("devices"))
        confirmed = guests.update(confirmed_at=timezone.now(), confirmed_by_id=by.member_id)
        for guest in found_guests:
            keys = [device.key for device in guest.devices.all()]
            contributors.name_devices_in_ledger(keys, guest.person or guest.key)
        audit.record_action(by=by, action="guest.confirm", subject=found.key, guests=confirmed)
    return confirmed


def join_attendees(*, by: Viewer, night: str, first: str, second: str) -> None:
    """Say that two on a night's list are one person, which only ever lowers counts.

    Raises BenchnightError `account.stewards_only`, `night.nobody`, `person.unconfirmed`, `person.same`.
    """
    policy.check_steward(by)
    people = {
        row.key: row.contributor
        for row in NightContributor.objects.select_related("contributor").filter(
            night__key=night, key__in=(first, second)
        )
    }
    if len({first, second} & people.keys()) < len({first, second}):
        raise BenchnightError("night.nobody", "Nobody of this key is on this night's list.", kind="not_found")
    _join(by, people[first], people[second])


def join_by_name(*, by: Viewer, first: str, second: str) -> None:
    """Say that two persons are one, each by the name of an account or of a guest.

    Raises BenchnightError `account.stewards_only`, `person.unknown`, `person.ambiguous`, `person.same`,
    `person.unconfirmed`.
    """
    policy.check_steward(by)
    _join(by, _find_person("first", first), _find_person("second", second))


def _join(by: Viewer, first: Contributor, second: Contributor) -> None:
    if first.pk == second.pk:
        raise BenchnightError("person.same", "This is the same person already.", field="second")
    with transaction.atomic():
        contributors.join_persons(first, second)
        audit.record_action(by=by, action="person.join", subject=by.name)


def _find_person(field: str, name: str) -> Contributor:
    plain = " ".join(name.split())
    found = list(Contributor.objects.filter(member__name=plain)[:1])
    found = found or list(
        Contributor.objects.filter(member=None, guest_name__iexact=plain).exclude(guest_name="")[:2]
    )
    if len(found) == 1:
        return found[0]
    code, why = ("ambiguous", "Several guests have") if found else ("unknown", "No account or guest has")
    raise BenchnightError(f"person.{code}", f"{why} the name {plain!r}.", field=field)
