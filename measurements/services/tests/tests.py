"""Records and withdraws tests. The main write of the house: read, check, compute, store, audit.

Bytes, arrays and figures are stored in one transaction, so an acknowledged upload is there as a whole;
the same bytes sent again for the same device find the first test (a bad connection makes no duplicate).
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from contextlib import AbstractContextManager, nullcontext
from datetime import date
from typing import Any

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.policy import Ownership
from measurements.disclosure.viewers import Viewer
from measurements.models import Device, NightOperator, SweepFile, Test, group_facts
from measurements.services.check_standards import holds
from measurements.services.devices import attendance, devices
from measurements.services.evidence import recipe_doubts
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import preparation, results, upload_statements
from measurements.services.tests.preparation import ComputedTest, RequestedTest
from measurements.services.uploads import size_limits
from measurements.services.uploads.uploads import TestSettings, Upload


def record_test(
    *,
    by: Viewer,
    device: str,
    uploads: Mapping[str, Upload],
    settings: TestSettings,
    measured_on: date,
    night: str | None = None,
    counted: AbstractContextManager[None] | None = None,
) -> WriteResult:
    """Store a test of a device with its files and figures.

    counted: entered around the work on a test that is not stored already, to count it against a limit.

    night: key of the club night it is made on, by one of its operators; its jig sweeps are used (unless the
    test brings its own) and its word on calibration counts (unless the settings say otherwise).
    Answers the test's key and whether it is new; the same test sent twice is stored once.
    Raises BenchnightError: nothing to read, a faulty file (with its line), a device that is not yours.
    """
    made_on = None if night is None else attendance.get_open_night(by, night)
    policy.check_signed_in(by)
    asked = RequestedTest(uploads, settings, measured_on, made_on)
    facts = upload_statements.read_upload_facts(
        device=device,
        content_sha256=asked.content,
        digests=preparation.list_own_digests(asked.digests),
        by=by.member_id,
        region=settings.region or group_facts.get_region(),
        on=measured_on,
    )
    found = devices.check_testable_device(by, facts.device, made_on)
    preparation.check_measured_on(measured_on)
    if facts.same_test is not None:
        if settings.recipe_confirmed:
            recipe_doubts.confirm_recipe(by=by, test=Test.objects.get(key=facts.same_test))
        if settings.private:
            _keep_private(by, Test.objects.get(key=facts.same_test))
        return WriteResult(facts.same_test, created=False)
    # only an ohmmeter test is held against what its design says
    design = found.design if settings.dc is not None else None
    with counted or nullcontext():
        computed = preparation.compute_test(by, asked, facts, design=design)
        return store_test(by=by, device=found, computed=computed)


def find_same_test(device: Device, asked: RequestedTest) -> WriteResult | None:
    """Return the test that these bytes and settings became before; None where they are new."""
    same = Test.objects.filter(device=device, content_sha256=asked.content)
    key = same.values_list("key", flat=True).first()
    return None if key is None else WriteResult(key, created=False)


def store_test(
    *, by: Viewer, device: Device, computed: ComputedTest, also: Callable[[WriteResult], None] | None = None
) -> WriteResult:
    """Store what was computed. also: done in the same transaction, with what `keep` will answer."""
    doubt = _check_recipe(device, computed)
    size_limits.check_storage_room(
        device.contributor, adding=sum(len(file.data) for file in computed.uploads.values())
    )
    try:
        with transaction.atomic():
            stored = WriteResult(_store(by, device, computed, doubt), created=True)
            if also is not None:
                also(stored)
    except IntegrityError:
        # another request stored the same test between our look and our write
        with transaction.atomic():
            already = find_same_test(device, computed.asked)
            if already is None:
                raise
            if also is not None:
                also(already)
        return already
    return stored


def withdraw_test(*, by: Viewer, test: str) -> None:
    """Delete a test with its files and figures; what was published of it stays until its design is renewed.

    Raises BenchnightError `test.not_found` where it is not the viewer's.
    """
    found = get_own_test(by, test)
    with transaction.atomic():
        audit.record_action(by=by, action="test.withdraw", subject=found.key, device=found.device.key)
        found.delete()
        if found.device.is_check_standard:
            holds.check_session(found)


def get_own_test(by: Viewer, key: str) -> Test:
    """Return the test, when `by` may withdraw it.

    Raises BenchnightError `test.not_found` otherwise, whether or not it exists.
    """
    policy.check_signed_in(by)
    found = Test.objects.select_related("device__contributor").filter(key=key).first()
    if found is None:
        raise policy.build_not_found("test")
    policy.check_withdraw_test(by, get_test_ownership(found))
    return found


def get_test_ownership(test: Test) -> Ownership:
    """Return the owner of a test, and the operators of its night while they have access."""
    operators = NightOperator.objects.of_bench(test.night_id, test.device_id)
    owner = test.device.contributor
    return Ownership(owner.member_id, night_operator_ids=operators, of_group=owner.is_group)


def confirm_recipe(*, by: Viewer, test: str) -> None:
    """Record that the owner answers for the recipe of a device whose curve contradicts it.

    Raises BenchnightError `test.not_found` where it is not the viewer's.
    """
    recipe_doubts.confirm_recipe(by=by, test=get_own_test(by, test))


def set_privacy(*, by: Viewer, test: str, private: bool) -> None:
    """Keep a test out of what is published from now on, or let it count; its owner's choice alone.

    What is published of it stays until its design is renewed, as after a withdrawal.
    Raises BenchnightError `test.not_found` where it is not the viewer's own.
    """
    found = get_own_test(by, test)
    policy.check_publish_test(by, get_test_ownership(found))
    _set_privacy(by, found, private=private)


def _keep_private(by: Viewer, test: Test) -> None:
    """Keep a test private that was sent again so, where it is the sender's own."""
    if policy.can_publish_test(by, get_test_ownership(test)):
        _set_privacy(by, test, private=True)


def _set_privacy(by: Viewer, test: Test, *, private: bool) -> None:
    with transaction.atomic():
        if Test.objects.filter(pk=test.pk, is_private=not private).update(is_private=private):
            action = "test.keep_private" if private else "test.publish"
            audit.record_action(by=by, action=action, subject=test.key)


def _check_recipe(device: Device, computed: ComputedTest) -> dict[str, Any] | None:
    if computed.settings.kind != recipe_doubts.EVIDENCE_KIND:
        return None
    recipe = Device.objects.values_list("design__recipe", flat=True).get(pk=device.pk)
    return recipe_doubts.check_recipe(recipe, computed.analysed.analysis.evidence)


def _store(by: Viewer, device: Device, computed: ComputedTest, doubt: dict[str, Any] | None) -> str:
    asked = computed.asked
    test = Test(
        device=device,
        recorded_by_id=by.member_id,
        kind=computed.settings.kind,
        settings=computed.settings.as_json(),
        measured_on=asked.measured_on,
        content_sha256=asked.content,
        night=asked.night,
        recipe_doubt=doubt,
        recipe_confirmed_at=timezone.now() if asked.settings.recipe_confirmed else None,
        shares_bytes=computed.shares_bytes,
        is_private=asked.settings.private,
    )
    files = [
        SweepFile(
            role=role,
            name=preparation.clean_file_name(upload.name),
            raw=upload.data,
            raw_sha256=computed.digests[role],
            **results.pack_sweep(computed.analysed.sweeps[role]),
        )
        for role, upload in computed.uploads.items()
    ]
    result = results.build_result(test, computed.analysed.analysis)
    entry = audit.build_entry(
        by=by, action="test.record", subject=test.key, device=device.key, kind=test.kind
    )
    upload_statements.insert_test(test, [*files, result, entry])
    if device.is_check_standard:
        holds.check_session(Test.objects.select_related("night").get(key=test.key))
    return test.key
