"""Moves a test to the device that it is really of, or a night's tests to the person they are of; with undo.

A move makes nobody a joiner: the private ledger keeps what was published, and a test that was published under
one person joins nothing under another (`disclosure.votes.group_persons`).
"""

from __future__ import annotations

from django.db import IntegrityError, transaction
from django.db.models import F
from django.utils import timezone

from measurements.disclosure import policy, published_figures
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Contributor, Device, Night, NightDevice, SweepFile, Test, TestMove
from measurements.services.check_standards import holds
from measurements.services.devices import attendance, devices
from measurements.services.evidence import recipe_doubts
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import preparation, tests
from measurements.services.uploads import size_limits

RATIO_KINDS = ("load_match", "insertion_loss", "balance")


def move_test(*, by: Viewer, test: str, device: str) -> WriteResult:
    """Move a test to another device; answers the key of the move, by which it is undone.

    Owners move among their own devices; operators of a night move its tests among what lies on its bench, as
    far as they stored them or the device is a guest's.
    Raises BenchnightError `test.not_found`, `device.not_found`, `move.same`, `move.ratio`, `move.kind`,
    `move.already_there`.
    """
    policy.check_signed_in(by)
    found = _get_movable_test(by, test)
    target = Device.objects.select_related("contributor", "design").filter(key=device).first()
    if target is None or not _may_receive(by, found, target):
        raise policy.build_not_found("device")
    with transaction.atomic():
        move = TestMove.objects.create(night=found.night, made_by_id=by.member_id)
        move.tests = [_move(found, target)]
        move.save(update_fields=["tests"])
        audit.record_action(by=by, action="test.move", subject=found.key, device=target.key, move=move.key)
    return WriteResult(move.key, created=True)


def move_person_tests(*, by: Viewer, night: str, giver: str, receiver: str) -> WriteResult:
    """Move what a guest of the night's list brought to another guest of it: the name was the wrong one.

    A device that was registered on this night alone changes its owner, so that its label stays good. Of one
    with a past only this night's tests move, to the receiver's device of the same tag and design.
    Raises BenchnightError `night.nobody`, `guest.is_member`, `move.same`, `move.nothing`, and as `move_test`.
    """
    found = attendance.get_night_for_staff(by, night)
    one, other = (attendance.get_attendee(found, key).contributor for key in (giver, receiver))
    devices.check_is_guest(one)
    devices.check_is_guest(other)
    if one.pk == other.pk:
        raise BenchnightError("move.same", "Choose two persons.", field="receiver")
    with transaction.atomic():
        move = TestMove.objects.create(night=found, made_by_id=by.member_id)
        for device in _list_brought(found, one):
            _hand_over(by, found, device, other, move)
        if not (move.tests or move.devices):
            raise BenchnightError(
                "move.nothing", "This person brought no device to this night.", kind="conflict", field="giver"
            )
        move.save(update_fields=["tests", "devices"])
        audit.record_action(by=by, action="night.move_person", subject=found.key, move=move.key)
        for person in (one, other):
            size_limits.reset_storage_count(person)
    return WriteResult(move.key, created=True)


def undo_move(*, by: Viewer, move: str) -> str:
    """Take a move back, whole; answers the key of its night, empty outside nights.

    Raises BenchnightError `move.not_found`, `move.changed`, `move.undone`.
    """
    policy.check_signed_in(by)
    found = TestMove.objects.select_related("night").filter(key=move).first()
    if found is None or not _may_undo(by, found):
        raise BenchnightError("move.not_found", "There is no such move of yours.", kind="not_found")
    with transaction.atomic():
        # the conditional UPDATE decides between two who press at once
        if not TestMove.objects.filter(pk=found.pk, undone_at=None).update(undone_at=timezone.now()):
            raise BenchnightError("move.undone", "This move is undone already.", kind="conflict")
        for key, before, after in found.devices:
            owner = Contributor.objects.filter(key=before).first()
            moved = Device.objects.filter(key=key, contributor__key=after)
            if owner is None or not moved.update(contributor=owner, version=F("version") + 1):
                raise _build_changed_error()
        for key, before, after in found.tests:
            test = (
                Test.objects.select_related("device__contributor", "device__design").filter(key=key).first()
            )
            device = Device.objects.select_related("contributor", "design").filter(key=before).first()
            if test is None or device is None or test.device.key != after:
                raise _build_changed_error()
            _move(test, device)
        audit.record_action(by=by, action="test.undo_move", subject=found.key)
    return "" if found.night is None else found.night.key


def _get_movable_test(by: Viewer, key: str) -> Test:
    rows = Test.objects.select_related("device__contributor", "device__design", "night")
    found = rows.filter(key=key).first()
    if found is None:
        raise policy.build_not_found("test")
    owned = tests.get_test_ownership(found)
    if policy.can_withdraw_test(by, owned):
        return found
    stored_it = found.recorded_by_id == by.member_id or found.device.contributor.is_guest
    if not (policy.can_see_test(by, owned) and stored_it):
        raise policy.build_not_found("test")
    return found


def _may_receive(by: Viewer, test: Test, device: Device) -> bool:
    if policy.can_alter_device(by, devices.get_device_ownership(device)):
        return True
    if test.night is None or by.member_id not in attendance.get_night_staff(test.night).operator_ids:
        return False
    return NightDevice.objects.live().filter(night=test.night, device=device).exists()


def _move(test: Test, target: Device) -> list[str]:
    """Move one test; answers it with the devices before and after. Call inside a transaction."""
    before = test.device
    _check_fit(test, before, target)
    try:
        with transaction.atomic():
            test.device = target
            test.shares_bytes = _is_held_by_another(test, target)
            test.save(update_fields=["device", "shares_bytes"])
    except IntegrityError as error:
        raise BenchnightError(
            "move.already_there", f"{target.tag} has this very test already.", kind="conflict"
        ) from error
    Device.objects.filter(pk=before.pk, baseline=test).update(baseline=None)
    Device.objects.filter(pk__in=(before.pk, target.pk)).update(version=F("version") + 1)
    if test.kind in published_figures.KIND_RULES and before.design_id != target.design_id:
        recipe_doubts.check_test_again(test, target)
    if before.is_check_standard or target.is_check_standard:
        holds.check_session(test)
    if before.contributor_id != target.contributor_id:
        for person in (before.contributor, target.contributor):
            size_limits.reset_storage_count(person)
    return [test.key, before.key, target.key]


def _check_fit(test: Test, before: Device, target: Device) -> None:
    """Refuse a move that would leave figures computed for another device."""
    if before.pk == target.pk:
        raise BenchnightError("move.same", f"It is a test of {target.tag} already.", field="device")
    if target.design is None or before.design_id == target.design_id:
        return
    if test.kind in RATIO_KINDS and test.settings.get("ratio") != target.design.ratio:
        raise BenchnightError(
            "move.ratio",
            f"Its figures were computed for {test.settings.get('ratio')}, and {target.tag} is "
            f"{target.design.ratio}. Withdraw it, and hand its file in for {target.tag}.",
            kind="conflict",
            field="device",
        )
    if test.kind == "dc":
        raise BenchnightError(
            "move.kind",
            f"An ohmmeter test is held against its design. Enter the readings again for {target.tag}.",
            kind="conflict",
            field="device",
        )


def _is_held_by_another(test: Test, target: Device) -> bool:
    """Say whether an older test of another person holds the same bytes; see `preparation.find_holders`."""
    digests = preparation.list_own_digests(dict(test.sweeps.values_list("role", "raw_sha256")))
    earlier = SweepFile.objects.filter(raw_sha256__in=digests, test__lt=test.pk)
    holders = earlier.values_list("test__device__contributor", "test__recorded_by")
    return not all(
        preparation.is_own_holder(owner, stored_by, target.contributor_id, test.recorded_by_id)
        for owner, stored_by in holders
    )


def _list_brought(night: Night, person: Contributor) -> list[Device]:
    there = NightDevice.objects.live().filter(night=night).values("device")
    rows = person.devices.filter(pk__in=there).select_related("contributor", "design")
    return list(rows.order_by("tag"))


def _hand_over(by: Viewer, night: Night, device: Device, receiver: Contributor, move: TestMove) -> None:
    """Give a device that is new here to the receiver, or this night's tests of an older one."""
    same = receiver.devices.select_related("contributor", "design").filter(tag__iexact=device.tag).first()
    has_past = (
        device.nights.exclude(night=night).exists()
        or device.inspections.exists()
        or Test.objects.filter(device=device).exclude(night=night).exists()
    )
    if same is None and not has_past:
        Device.objects.filter(pk=device.pk).update(contributor=receiver, version=F("version") + 1)
        move.devices.append([device.key, device.contributor.key, receiver.key])
        return
    moving = Test.objects.filter(device=device, night=night)
    rows = list(moving.select_related("device__contributor", "device__design").order_by("pk"))
    if not rows:
        return
    if same is None:
        design = "" if device.design is None else device.design.key
        same = devices.register_device_for(by, receiver, design=design, tag=device.tag)
    attendance.record_device_brought(by, night, same, NightDevice.How.REGISTERED)
    move.tests += [_move(test, same) for test in rows]


def _may_undo(by: Viewer, move: TestMove) -> bool:
    if by.is_steward or move.made_by_id == by.member_id:
        return True
    return move.night is not None and by.member_id in attendance.get_night_staff(move.night).operator_ids


def _build_changed_error() -> BenchnightError:
    return BenchnightError(
        "move.changed", "Something of this move changed since, so it cannot be undone.", kind="conflict"
    )
