"""Registers and changes devices."""

from __future__ import annotations

from datetime import date, timedelta
from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.policy import Ownership
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError, ErrorCollector
from measurements.models import Contributor, Design, Device, Night, NightDevice, NightOperator, Result, Test
from measurements.services.devices import attendance, contributors
from measurements.services.evidence import recipe_doubts
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult

# Checks the test that somebody chooses as a device's commissioning.


def get_baseline_test(device: Device, key: str | None) -> Test | None:
    """Return the test of this device with that key; None for None.

    Raises BenchnightError `device.baseline`: not a test of it, or one that does not count.
    """
    if key is None:
        return None
    test = Test.objects.filter(device=device, key=key).first()
    if test is None:
        raise BenchnightError("device.baseline", "Choose a test of this device.", field="baseline")
    if not is_test_counted(test):
        raise BenchnightError(
            "device.baseline",
            "This test is left out of evidence, so it cannot be the commissioning test. Choose another one.",
            field="baseline",
        )
    return test


def is_test_counted(test: Test) -> bool:
    """Say whether a test is believed: nobody left it out, and no flag leaves out the whole of it."""
    figures = Result.objects.filter(test=test, current=True).values_list("figures", flat=True).get()
    left_out = any(flag["severity"] == "exclude" and flag["band"] is None for flag in figures["flags"])
    return not test.excluded_reason and not left_out


MOST_NOTES = 4000

MOST_DEVICES = 2000  # of one contributor: far above any shelf, far below a flood

MOST_PLACE = 120

CHANGEABLE = ("design", "tag", "origin", "built_on", "notes", "place", "retired_on", "baseline")


def register_device(
    *,
    by: Viewer,
    design: str,
    tag: str,
    origin: str = Device.Origin.HOMEBREW,
    built_on: date | None = None,
    notes: str = "",
    place: str = "",
    contributor: tuple[str, str] | None = None,
) -> WriteResult:
    """Return files a device of `by` under its tag; the same tag of the same owner again is a conflict.

    contributor: (night, who brought it, as that night's list has the key), where an operator registers it
    for whoever owns it; it then counts as brought to that night.
    Raises BenchnightError with every fault, fields as named here.
    """
    policy.check_signed_in(by)
    night = None if contributor is None else attendance.get_open_night(by, contributor[0])
    given = {"design": design, "tag": tag, "origin": origin, "built_on": built_on, "notes": notes}
    fields = _check_fields({**given, "place": place})
    with transaction.atomic():
        if night is not None and contributor is not None:
            owner = check_is_guest(attendance.get_attendee(night, contributor[1]).contributor)
        else:
            owner = contributors.get_or_create_contributor(by.member_id)  # type: ignore[arg-type]  # signed in
        device = _create_device(by, owner, fields)
        if night is not None:
            attendance.record_device_brought(by, night, device, NightDevice.How.REGISTERED)
    return WriteResult(device.key, created=True)


def check_is_guest(owner: Contributor) -> Contributor:
    """Raise BenchnightError `guest.is_member`: an operator adds nothing to an account."""
    if owner.member_id is not None:
        raise BenchnightError(
            "guest.is_member",
            "This person has the devices in an account. Scan the label of the one that is here.",
            kind="conflict",
            field="contributor",
        )
    return owner


def register_device_for(by: Viewer, owner: Contributor, *, design: str, tag: str) -> Device:
    """Return files a device of somebody else, for who has checked that `by` may. Call inside a transaction.

    Raises BenchnightError as `register`.
    """
    check_is_guest(owner)
    return _create_device(by, owner, _check_fields({"design": design, "tag": tag}))


def _create_device(by: Viewer, owner: Contributor, fields: dict[str, Any]) -> Device:
    if owner.devices.count() >= MOST_DEVICES:
        raise BenchnightError(
            "device.too_many", f"An account holds up to {MOST_DEVICES} devices.", kind="too_many"
        )
    if owner.devices.filter(tag=fields["tag"]).exists():
        raise _build_tag_error(fields["tag"])
    device = Device.objects.create(contributor=owner, **fields)
    audit.record_action(by=by, action="device.register", subject=device.key)
    return device


def update_device(*, by: Viewer, device: str, version: int, **changes: Any) -> int:
    """Change fields of a device and return its new version.

    baseline: key of a test of it that counts, or None for the first one.
    version: the one the change is based on; a stale one is a conflict (`device.stale`).
    Raises BenchnightError: not found where `by` may not see it, else with every fault.
    """
    found = get_own_device(by, device)
    unknown = sorted(set(changes) - set(CHANGEABLE))
    if unknown:
        raise BenchnightError(
            "device.unknown_field",
            f"There is no such field; these can be changed: {', '.join(CHANGEABLE)}.",
            field=unknown[0],
        )
    fields = _check_fields(changes)
    if "baseline" in changes:
        fields["baseline"] = get_baseline_test(found, changes["baseline"])
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
            if fields.get("design", found.design) != found.design:
                recipe_doubts.check_recipe_again(Device.objects.select_related("design").get(pk=found.pk))
            audit.record_action(by=by, action="device.change", subject=found.key, fields=sorted(fields))
    except IntegrityError as error:
        raise _build_tag_error(str(changes.get("tag", ""))) from error
    return version + 1


def get_own_device(by: Viewer, key: str) -> Device:
    """Return the device, when `by` may alter it.

    Raises BenchnightError `device.not_found` otherwise, whether or not it exists.
    """
    policy.check_signed_in(by)
    device = Device.objects.select_related("contributor", "design").filter(key=key).first()
    if device is None:
        raise policy.build_not_found("device")
    policy.check_alter_device(by, get_device_ownership(device))
    return device


def check_testable_device(by: Viewer, device: Device | None, night: Night | None) -> Device:
    """Return the device, when `by` may store a test of it: made on `night`, where one is given.

    device: with its owner; None where there is none. Its key opens it to the night's operators, unless its
    owner ended their access.

    Raises BenchnightError `device.not_found` otherwise, whether or not it exists; `test.night_missing` to
    operators who have it on their bench and name no night.
    """
    policy.check_signed_in(by)
    if device is None:
        raise policy.build_not_found("device")
    if night is not None:
        owned = Ownership(owner_member_id=device.contributor.member_id)
        policy.check_record_test(by, owned, attendance.get_night_staff(night))
        with transaction.atomic():
            attendance.record_device_brought(by, night, device)
    elif not policy.can_record_test(by, Ownership(owner_member_id=device.contributor.member_id)):
        # who has it on the bench of a night would store a test here that he could not see himself
        policy.check_see_device_on_bench(by, get_device_ownership(device))
        raise BenchnightError(
            "test.night_missing",
            "Only its owner stores tests of it outside a night. Name the night that this one is made on.",
            field="night",
        )
    return device


def get_device_ownership(device: Device) -> Ownership:
    """Return the owner of a device, and the operators on whose bench it is now."""
    operators = NightOperator.objects.of_device(device.pk)
    return Ownership(owner_member_id=device.contributor.member_id, night_operator_ids=operators)


def _check_fields(given: dict[str, Any]) -> dict[str, Any]:
    faults = ErrorCollector("device.invalid", "Some fields of the device need mending; see the list.")
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
    """Return tomorrow by UTC: whoever is ahead of UTC may already write tomorrow's date."""
    return (timezone.now() + timedelta(days=1)).date()


def _build_tag_error(tag: str) -> BenchnightError:
    return BenchnightError(
        "device.tag_taken",
        f"The same owner has a device with the tag {tag!r} already. Open that one, or give this one another "
        "tag.",
        kind="conflict",
        field="tag",
    )
