"""Records and withdraws tests. The main write of the house: read, check, compute, store, audit.

Bytes, arrays and figures are stored in one transaction, so an acknowledged upload is there as a whole;
the same bytes sent again for the same device find the first test (a bad connection makes no duplicate).
"""

from __future__ import annotations

import hashlib
import json
from collections.abc import Mapping
from datetime import date, timedelta

from django.db import IntegrityError, transaction
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import Ownership
from measurements.errors import BenchnightError
from measurements.ingest import analysis, arrays, audit, devices, quota, results
from measurements.ingest.stored import Stored
from measurements.ingest.uploads import TestSettings, Upload
from measurements.models import Device, SweepFile, Test

EARLIEST = date(1990, 1, 1)


def record(
    *,
    by: Viewer,
    device: str,
    uploads: Mapping[str, Upload],
    settings: TestSettings,
    measured_on: date,
) -> Stored:
    """Stores a test of a device with its files and figures.

    Answers the test's key and whether it is new; the same test sent twice is stored once.
    Raises BenchnightError: nothing to read, a faulty file (with its line), a device that is not yours.
    """
    owner_device = devices.owned(by, device)
    _check_date(measured_on)
    digests = {role: hashlib.sha256(upload.data).hexdigest() for role, upload in uploads.items()}
    content = _content_sha256(digests, settings)
    already = Test.objects.filter(device=owner_device, content_sha256=content).first()
    if already is not None:
        return Stored(already.key, created=False)
    quota.check(owner_device.contributor, adding=sum(len(upload.data) for upload in uploads.values()))
    analysed = analysis.of_uploads(
        uploads_by_role=uploads,
        settings=settings,
        on=measured_on,
        same_bytes=stored_elsewhere(digests),
        by=by,
    )
    try:
        with transaction.atomic():
            key = _store(by, owner_device, uploads, digests, settings, measured_on, content, analysed)
    except IntegrityError:
        # another request stored the same test between our look and our write
        return Stored(Test.objects.get(device=owner_device, content_sha256=content).key, created=False)
    return Stored(key, created=True)


def withdraw(*, by: Viewer, test: str) -> None:
    """Deletes a test with its files and figures; its evidence goes with the next release.

    Raises BenchnightError `test.not_found` where it is not the viewer's.
    """
    found = owned(by, test)
    with transaction.atomic():
        audit.note(by=by, action="test.withdraw", subject=found.key, device=found.device.key)
        found.delete()


def owned(by: Viewer, key: str) -> Test:
    """The test, when `by` may withdraw it.

    Raises BenchnightError `test.not_found` otherwise, whether or not it exists.
    """
    policy.check_signed_in(by)
    found = Test.objects.select_related("device__contributor").filter(key=key).first()
    if found is None:
        raise policy.missing("test")
    policy.check_withdraw_test(by, Ownership(owner_member_id=found.device.contributor.member_id))
    return found


def _store(
    by: Viewer,
    device: Device,
    uploads: Mapping[str, Upload],
    digests: Mapping[str, str],
    settings: TestSettings,
    measured_on: date,
    content: str,
    analysed: analysis.Analysed,
) -> str:
    test = Test.objects.create(
        device=device,
        recorded_by_id=by.member_id,
        kind=settings.kind,
        settings=settings.as_json(),
        measured_on=measured_on,
        content_sha256=content,
    )
    for role, upload in uploads.items():
        SweepFile.objects.create(
            test=test,
            role=role,
            name=_plain_name(upload.name),
            raw=upload.data,
            raw_sha256=digests[role],
            **arrays.stored_fields(analysed.sweeps[role]),
        )
    results.add(test, analysed.analysis)
    audit.note(by=by, action="test.record", subject=test.key, device=device.key, kind=test.kind)
    return test.key


def _content_sha256(digests: Mapping[str, str], settings: TestSettings) -> str:
    """What makes two uploads the same test: its settings and the bytes in every role, not file names."""
    content = {"files": dict(sorted(digests.items())), "settings": settings.as_json()}
    try:
        canonical = json.dumps(content, sort_keys=True, allow_nan=False)
    except ValueError as error:  # a reading such as 1e999
        raise BenchnightError(
            "readings.not_finite", "A reading is not a finite number.", field="readings"
        ) from error
    return hashlib.sha256(canonical.encode()).hexdigest()


def stored_elsewhere(digests: Mapping[str, str], *, but: Test | None = None) -> bool:
    """Whether an older test holds one of these sweeps. Jig sweeps are rightly shared by many tests."""
    own = [digest for role, digest in digests.items() if not role.startswith("jig_")]
    files = SweepFile.objects.filter(raw_sha256__in=own)
    return (files if but is None else files.filter(test__lt=but.pk)).exists()


def _plain_name(name: str) -> str:
    """The file's own name without folders and control characters, at most 255 characters."""
    last = name.replace("\\", "/").rsplit("/", 1)[-1]
    return "".join(char for char in last if char.isprintable())[:255] or "unnamed"


def _check_date(measured_on: date) -> None:
    # tomorrow is allowed: whoever is ahead of UTC may already write tomorrow's date
    if not EARLIEST <= measured_on <= (timezone.now() + timedelta(days=1)).date():
        raise BenchnightError(
            "test.measured_on", "Give the day of the measurement, not in the future.", field="measured_on"
        )
