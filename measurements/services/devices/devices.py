"""Registers and changes devices."""

from __future__ import annotations

from typing import Any

from django.db import IntegrityError, transaction
from django.db.models import F

from measurements.disclosure import policy
from measurements.disclosure.policy import Ownership
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Contributor, Device, Night, NightDevice, NightOperator, Result, Test
from measurements.services.devices import attendance, contributors, label_codes
from measurements.services.devices.device_fields import check_device_fields
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


MOST_DEVICES = 2000  # of one contributor: far above any shelf, far below a flood


def register_device(
    *,
    by: Viewer,
    design: str | None,
    tag: str,
    origin: str = Device.Origin.HOMEBREW,
    contributor: tuple[str, str] | None = None,
    of_group: bool = False,
    code: str = "",
    **described: Any,
) -> WriteResult:
    """File a device of `by` under its tag; the same tag of the same owner again is a conflict.

    design: None while its build is not known. described: any of built_on, notes, place, kind, ratio, make.
    of_group: it is the group's, filed by one of its keepers. code: of a blank label that is on it now.
    contributor: (night, who brought it, as that night's list has the key), where an operator registers it
    for whoever owns it; it then counts as brought to that night.
    Raises BenchnightError with every fault, fields as named here; `account.keepers_only`.
    """
    policy.check_signed_in(by)
    if of_group:
        policy.check_keeper(by)
    night = None if contributor is None else attendance.get_open_night(by, contributor[0])
    fields = check_device_fields({"design": design, "tag": tag, "origin": origin, **described})
    with transaction.atomic():
        if of_group:
            owner = contributors.get_or_create_group()
        elif night is not None and contributor is not None:
            owner = check_is_guest(attendance.get_attendee(night, contributor[1]).contributor)
        else:
            owner = contributors.get_or_create_contributor(by.member_id)  # type: ignore[arg-type]  # signed in
        device = create_device(by, owner, fields)
        if code:
            label_codes.bind_code_to_device(by, code, device)
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


def register_device_for(by: Viewer, owner: Contributor, *, design: str | None, tag: str) -> Device:
    """File a device of somebody else, for who has checked that `by` may. Call inside a transaction.

    Raises BenchnightError as `register`.
    """
    check_is_guest(owner)
    return create_device(by, owner, check_device_fields({"design": design, "tag": tag}))


def create_device(by: Viewer, owner: Contributor, fields: dict[str, Any]) -> Device:
    """File a device with checked fields, for who has checked that `by` may. Call inside a transaction.

    Raises BenchnightError `device.too_many`, `device.tag_taken`.
    """
    if owner.devices.count() >= MOST_DEVICES:
        raise BenchnightError(
            "device.too_many", f"An account holds up to {MOST_DEVICES} devices.", kind="too_many"
        )
    if owner.devices.filter(tag=fields["tag"]).exists():
        raise build_tag_error(fields["tag"])
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
    fields = check_device_fields(changes)
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
        raise build_tag_error(str(changes.get("tag", ""))) from error
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


def get_owned_device(by: Viewer, key: str) -> Device:
    """Return the device, when it is `by`'s own, or the group's and `by` keeps the kit.

    Raises BenchnightError `device.not_found`; `device.not_owner` to a steward: others' are not to give away.
    """
    found = get_own_device(by, key)
    if not contributors.is_owner(by, found.contributor):
        raise BenchnightError("device.not_owner", "Only its owner gives it away.", kind="forbidden")
    return found


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
        owned = Ownership(device.contributor.member_id, of_group=device.contributor.is_group)
        policy.check_record_test(by, owned, attendance.get_night_staff(night))
        with transaction.atomic():
            attendance.record_device_brought(by, night, device)
    elif not policy.can_record_test(
        by, Ownership(device.contributor.member_id, of_group=device.contributor.is_group)
    ):
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
    owner = device.contributor
    return Ownership(owner.member_id, night_operator_ids=operators, of_group=owner.is_group)


def build_tag_error(tag: str) -> BenchnightError:
    """Build the refusal of a tag that another device of the same owner has."""
    return BenchnightError(
        "device.tag_taken",
        f"The same owner has a device with the tag {tag!r} already. Open that one, or give this one another "
        "tag.",
        kind="conflict",
        field="tag",
    )
