"""Turns the waiting files of an intake into tests, one unit at a time; each unit is one transaction.

A unit is stored whole with the state of its files, or nothing of it is. So an intake may be killed
anywhere and taken up by another worker: what is stored is done, what is not is still waiting.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Sequence

from django.db import IntegrityError, OperationalError, connection, transaction

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import assignments, intake_devices, intake_lease, manifest, recording, tests
from measurements.ingest.assignments import Assigned
from measurements.ingest.intake_lease import LeaseLostError
from measurements.ingest.recording import Asked
from measurements.ingest.stored import Stored
from measurements.ingest.uploads import Upload
from measurements.models import Intake, IntakeFile, Test

logger = logging.getLogger(__name__)

WAITING, REFUSED = IntakeFile.State.WAITING, IntakeFile.State.REFUSED
STORED, ALREADY_THERE = IntakeFile.State.STORED, IntakeFile.State.ALREADY_THERE
MOST_PAUSES, PAUSE_S = 10, 2.0  # a database that is busy or restarts is waited for
FAILED = "Something went wrong on the server; it was logged. Send this file again later."


def run(*, intake: str) -> None:
    """Works on an intake until no file of it waits; nothing, where another worker does."""
    found = intake_lease.take(intake, intake_lease.new_worker())
    if found is None:
        return
    try:
        pauses = 0
        while not _at_end(found):
            pauses = 0 if _one_more(found) else pauses + 1
            if pauses > MOST_PAUSES:
                raise OperationalError("The database did not answer for too long; resume_intakes goes on.")
    except LeaseLostError:
        logger.info("An intake was taken over by another worker")
    except BaseException:
        intake_lease.let_go(found)
        raise


def _at_end(intake: Intake) -> bool:
    with transaction.atomic():
        return intake_lease.finish(intake)


def _one_more(intake: Intake) -> bool:
    """Does the next unit; False where the database is busy and the unit has to wait a little."""
    try:
        unit = intake.files.filter(state=WAITING).order_by("unit").values_list("unit", flat=True).first()
        if unit is not None:
            _do(intake, unit)
    except OperationalError:
        logger.warning("The database did not answer; an intake waits a little", exc_info=True)
        time.sleep(PAUSE_S)
        if not connection.in_atomic_block:  # a server that restarted needs a new connection
            connection.close_if_unusable_or_obsolete()
        return False
    return True


def _do(intake: Intake, unit: int) -> None:
    files = list(intake.files.filter(unit=unit, state=WAITING).order_by("number"))
    try:
        try:
            _store(intake, files)
        except IntegrityError:
            # somebody else registered the same device, or welcomed the same guest, at the same moment
            _store(intake, files)
    except BenchnightError as error:
        _refuse(intake, files, error)
    except (LeaseLostError, OperationalError):
        raise  # not this unit's fault: it waits for the next worker
    except Exception:
        # a defect of ours in one unit must not keep the others waiting for ever
        logger.exception("A unit of an intake failed in a way that nobody foresaw")
        _refuse(intake, files, BenchnightError("intake.failed", FAILED))


def _store(intake: Intake, files: Sequence[IntakeFile]) -> None:
    by = _viewer(intake)
    assigned = assignments.together([file.assignment for file in files])
    uploads = _uploads(files, assigned)
    place = intake_devices.find(by, intake.night, assigned)
    asked = Asked(
        uploads,
        intake_devices.settings_of(place, assigned),
        assigned.measured_on or intake.night.held_on,
        intake.night,
    )
    already = None if place.device is None else tests.stored_before(place.device, asked)
    if already is not None:
        with transaction.atomic():
            _ended(intake, files, already)
        return
    computed = recording.compute(by, asked)
    with transaction.atomic():
        device = intake_devices.settle(by, intake.night, place, assigned)
        tests.keep(by=by, device=device, computed=computed, also=lambda stored: _ended(intake, files, stored))


def _uploads(files: Sequence[IntakeFile], assigned: Assigned) -> dict[str, Upload]:
    for file in files:
        if not file.raw:
            raise BenchnightError(
                "intake.not_sent",
                "The manifest names this file, but it did not come or is empty. Send it.",
                field="file",
                line=_line(file),
            )
    return {
        role: Upload(file.name, bytes(file.raw)) for role, file in zip(assigned.roles, files, strict=True)
    }


def _ended(intake: Intake, files: Sequence[IntakeFile], stored: Stored) -> None:
    """Notes the end of a unit in the transaction that stores its test; the bytes are the test's now."""
    intake_lease.renew(intake)
    test = Test.objects.get(key=stored.key)
    IntakeFile.objects.filter(pk__in=[file.pk for file in files]).update(
        state=STORED if stored.created else ALREADY_THERE, test=test, reason="", raw=b""
    )


def _refuse(intake: Intake, files: Sequence[IntakeFile], error: BenchnightError) -> None:
    """Every file of the unit ends refused; the one at fault says why, the others name it."""
    at_fault = _at_fault(files, error)
    with transaction.atomic():
        intake_lease.renew(intake)
        for file in files:
            reason = sentence(error)
            if at_fault is not None and file.pk != at_fault.pk:
                reason = f"It belongs to one test with {at_fault.name}, which was refused: {reason}"
            IntakeFile.objects.filter(pk=file.pk).update(state=REFUSED, reason=reason)


def sentence(error: BenchnightError) -> str:
    """Why a file was refused, with line and column where there are any."""
    parts = []
    for fault in error.errors:
        where = []
        if fault.line is not None:
            where.append(f"line {fault.line}")
        if fault.field in manifest.KNOWN:
            where.append(f"column {fault.field}")
        text = ", ".join(where)
        parts.append(f"{text[:1].upper()}{text[1:]}: {fault.detail}" if text else fault.detail)
    return " ".join(parts)


def _at_fault(files: Sequence[IntakeFile], error: BenchnightError) -> IntakeFile | None:
    """The one file that an error is about, by its role or its line; None where it is about them all."""
    if len(files) < 2:
        return None
    fault = error.errors[0]
    for file in files:
        in_manifest = fault.field in manifest.KNOWN and fault.line is not None and _line(file) == fault.line
        if in_manifest or assignments.role_of(file.assignment) == fault.field:
            return file
    return None


def _line(file: IntakeFile) -> int | None:
    line = file.assignment.get(manifest.LINE)
    return line if isinstance(line, int) else None


def _viewer(intake: Intake) -> Viewer:
    """Whoever handed it in; what this account may do is asked again for every unit."""
    account = intake.made_by
    if account is None or not account.is_active:
        raise BenchnightError(
            "intake.nobody", "The account that handed this in is gone or suspended. Hand it in again."
        )
    return Viewer(member_id=account.pk, name=account.name, role=account.role)
