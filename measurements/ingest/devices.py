"""Registers and changes devices."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import Ownership
from measurements.errors import BenchnightError
from measurements.ingest import audit, baselines, brought, contributors, night_access
from measurements.ingest.problems import Faults
from measurements.ingest.stored import Stored
from measurements.models import Contributor, Design, Device, Night, NightOperator
from measurements.models.prepared import Prepared

MOST_NOTES = 4000
MOST_DEVICES = 2000  # of one contributor: far above any shelf, far below a flood
MOST_PLACE = 120
CHANGEABLE = ("design", "tag", "origin", "built_on", "notes", "place", "retired_on", "baseline")
_WITH_OWNER = Prepared(lambda key: Device.objects.select_related("contributor").filter(key=key), str)


def register(
    *,
    by: Viewer,
    design: str,
    tag: str,
    origin: str = Device.Origin.HOMEBREW,
    built_on: date | None = None,
    notes: str = "",
    place: str = "",
    contributor: tuple[str, str] | None = None,
) -> Stored:
    """Files a device of `by` under its tag; the same tag of the same owner again is a conflict.

    contributor: (night, who brought it, as that night's list has the key), where an operator registers it
    for whoever owns it; it then counts as brought to that night.
    Raises BenchnightError with every fault, fields as named here.
    """
    policy.check_signed_in(by)
    night = None if contributor is None else night_access.still_open(by, contributor[0])
    given = {"design": design, "tag": tag, "origin": origin, "built_on": built_on, "notes": notes}
    fields = _checked({**given, "place": place})
    with transaction.atomic():
        if night is not None and contributor is not None:
            owner = night_access.attendee(night, contributor[1]).contributor
        else:
            owner = contributors.of_member(by.member_id)  # type: ignore[arg-type]  # signed in
        device = _created(by, owner, fields)
        if night is not None:
            brought.bring_to(by, night, device)
    return Stored(device.key, created=True)


def register_for(by: Viewer, owner: Contributor, *, design: str, tag: str) -> Device:
    """Files a device of somebody else, for who has checked that `by` may. Call inside a transaction.

    Raises BenchnightError as `register`.
    """
    return _created(by, owner, _checked({"design": design, "tag": tag}))


def _created(by: Viewer, owner: Contributor, fields: dict[str, Any]) -> Device:
    if owner.devices.count() >= MOST_DEVICES:
        raise BenchnightError(
            "device.too_many", f"An account holds up to {MOST_DEVICES} devices.", kind="too_many"
        )
    if owner.devices.filter(tag=fields["tag"]).exists():
        raise _tag_taken(fields["tag"])
    device = Device.objects.create(contributor=owner, **fields)
    audit.note(by=by, action="device.register", subject=device.key)
    return device


def change(*, by: Viewer, device: str, version: int, **changes: Any) -> int:
    """Changes fields of a device and returns its new version.

    baseline: key of a test of it that counts, or None for the first one.
    version: the one the change is based on; a stale one is a conflict (`device.stale`).
    Raises BenchnightError: not found where `by` may not see it, else with every fault.
    """
    found = owned(by, device)
    unknown = sorted(set(changes) - set(CHANGEABLE))
    if unknown:
        raise BenchnightError(
            "device.unknown_field",
            f"There is no such field; these can be changed: {', '.join(CHANGEABLE)}.",
            field=unknown[0],
        )
    fields = _checked(changes)
    if "baseline" in changes:
        fields["baseline"] = baselines.chosen(found, changes["baseline"])
    try:
        with transaction.atomic():
            # a conditional UPDATE, because row locks are a silent no-op on SQLite
            changed = Device.objects.filter(pk=found.pk, version=version).update(
                version=F("version") + 1, **fields
            )
            if not changed:
                raise BenchnightError(
                    "device.stale",
                    "Somebody changed this device meanwhile. Read it again and repeat your change.",
                    kind="conflict",
                )
            audit.note(by=by, action="device.change", subject=found.key, fields=sorted(fields))
    except IntegrityError as error:
        raise _tag_taken(str(changes.get("tag", ""))) from error
    return version + 1


def owned(by: Viewer, key: str) -> Device:
    """The device, when `by` may alter it.

    Raises BenchnightError `device.not_found` otherwise, whether or not it exists.
    """
    policy.check_signed_in(by)
    device = Device.objects.select_related("contributor", "design").filter(key=key).first()
    if device is None:
        raise policy.missing("device")
    policy.check_alter_device(by, ownership(device))
    return device


def testable(by: Viewer, key: str, night: Night | None) -> Device:
    """The device, when `by` may store a test of it: made on `night`, where one is given.

    Raises BenchnightError `device.not_found` otherwise, whether or not it exists; `test.night_missing` to
    operators of its nights who name none.
    """
    policy.check_signed_in(by)
    device = _WITH_OWNER.first(key)
    if device is None:
        raise policy.missing("device")
    if night is not None:
        policy.check_record_test(by, ownership(device), night_access.staff(night))
    elif not policy.can_record_test(by, Ownership(owner_member_id=device.contributor.member_id)):
        # who may see it from a night would store a test here that he could not see himself
        policy.check_see_device(by, ownership(device))
        raise BenchnightError(
            "test.night_missing",
            "Only its owner stores tests of it outside a night. Name the night that this one is made on.",
            field="night",
        )
    return device


def ownership(device: Device) -> Ownership:
    """Whose a device is, and who ran the nights it was brought to."""
    operators = NightOperator.objects.of_device(device.pk)
    return Ownership(owner_member_id=device.contributor.member_id, night_operator_ids=operators)


def _checked(given: dict[str, Any]) -> dict[str, Any]:
    faults = Faults("device.invalid", "Some fields of the device need mending; see the list.")
    fields: dict[str, Any] = {}
    if "design" in given:
        fields["design"] = Design.objects.reached(str(given["design"]))
        if fields["design"] is None:
            faults.add("design", "device.unknown_design", "There is no such design; register it first.")
    if "tag" in given:
        fields["tag"] = " ".join(str(given["tag"]).split())
        if not 1 <= len(fields["tag"]) <= 64 or not fields["tag"].isprintable():
            faults.add("tag", "device.tag", "Give the tag on the device, up to 64 characters.")
    if "origin" in given:
        fields["origin"] = given["origin"]
        if given["origin"] not in Device.Origin.values:
            faults.add("origin", "device.origin", f"Choose one of: {', '.join(Device.Origin.values)}.")
    if "built_on" in given:
        fields["built_on"] = given["built_on"]
        if given["built_on"] is not None and not date(1900, 1, 1) <= given["built_on"] <= _tomorrow():
            faults.add("built_on", "device.built_on", "Give a date that is not in the future.")
    if "notes" in given:
        fields["notes"] = str(given["notes"])
        if len(fields["notes"]) > MOST_NOTES or "\x00" in fields["notes"]:
            faults.add("notes", "device.notes", f"Keep the notes under {MOST_NOTES} characters of text.")
    if "place" in given:
        fields["place"] = " ".join(str(given["place"]).split())
        if len(fields["place"]) > MOST_PLACE or not fields["place"].isprintable():
            faults.add("place", "device.place", f"Say where in up to {MOST_PLACE} characters.")
    if "retired_on" in given:
        fields["retired_on"] = given["retired_on"]
        if given["retired_on"] is not None and not date(1900, 1, 1) <= given["retired_on"] <= _tomorrow():
            faults.add("retired_on", "device.retired_on", "Give a date that is not in the future.")
    faults.raise_any()
    return fields


def _tomorrow() -> date:
    """Tomorrow by UTC: whoever is ahead of UTC may already write tomorrow's date."""
    return (timezone.now() + timedelta(days=1)).date()


def _tag_taken(tag: str) -> BenchnightError:
    return BenchnightError(
        "device.tag_taken",
        f"The same owner has a device with the tag {tag!r} already. Open that one, or give this one another "
        "tag.",
        kind="conflict",
        field="tag",
    )
