"""The background task of an intake. TASKS (deploy/settings.py) says where it runs."""

from __future__ import annotations

import logging
import time
from collections.abc import Sequence
from functools import partial

from django.db import IntegrityError, OperationalError, connection, transaction
from django_tasks import task

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Intake, IntakeFile, Member, Test
from measurements.rf.sweeps import file_endings, reading
from measurements.services.intakes import grouping, leases, manifests, placement, questions
from measurements.services.intakes.grouping import UnitAssignment
from measurements.services.intakes.leases import LeaseLostError
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import preparation, tests
from measurements.services.tests.preparation import RequestedTest
from measurements.services.uploads.uploads import Upload

# Turns the waiting files of an intake into tests, one unit at a time; each unit is one transaction.
#
# A unit is stored whole with the state of its files, or nothing of it is. So an intake may be killed
# anywhere and taken up by another worker: what is stored is done, what is not is still waiting.

logger = logging.getLogger(__name__)

WAITING, REFUSED = IntakeFile.State.WAITING, IntakeFile.State.REFUSED

STORED, ALREADY_THERE = IntakeFile.State.STORED, IntakeFile.State.ALREADY_THERE

MOST_PAUSES, PAUSE_S = 10, 2.0  # a database that is busy or restarts is waited for

FAILED = "Something went wrong on the server; it was logged. Send this file again later."


def process_intake(*, intake: str) -> None:
    """Works on an intake until no file of it waits; nothing, where another worker does."""
    found = leases.take_lease(intake, leases.generate_worker_name())
    if found is None:
        return
    try:
        pauses = 0
        while not _finish_if_done(found):
            pauses = 0 if _process_next_unit(found) else pauses + 1
            if pauses > MOST_PAUSES:
                raise OperationalError("The database did not answer for too long; resume_intakes goes on.")
    except LeaseLostError:
        logger.info("An intake was taken over by another worker")
    except BaseException:
        leases.release_lease(found)
        raise


def _finish_if_done(intake: Intake) -> bool:
    with transaction.atomic():
        return leases.finish_work(intake)


def _process_next_unit(intake: Intake) -> bool:
    """Do the next unit; False where the database is busy and the unit has to wait a little."""
    try:
        unit = intake.files.filter(state=WAITING).order_by("unit").values_list("unit", flat=True).first()
        if unit is not None:
            _process_unit(intake, unit)
    except OperationalError:
        logger.warning("The database did not answer; an intake waits a little", exc_info=True)
        time.sleep(PAUSE_S)
        if not connection.in_atomic_block:  # a server that restarted needs a new connection
            connection.close_if_unusable_or_obsolete()
        return False
    return True


def _process_unit(intake: Intake, unit: int) -> None:
    files = list(intake.files.filter(unit=unit, state=WAITING).order_by("number"))
    try:
        try:
            _store_unit(intake, files)
        except IntegrityError:
            # somebody else registered the same device, or welcomed the same guest, at the same moment
            _store_unit(intake, files)
    except BenchnightError as error:
        _refuse_unit(intake, files, error)
    except (LeaseLostError, OperationalError):
        raise  # not this unit's fault: it waits for the next worker
    except Exception:
        # a defect of ours in one unit must not keep the others waiting for ever
        logger.exception("A unit of an intake failed in a way that nobody foresaw")
        _refuse_unit(intake, files, BenchnightError("intake.failed", FAILED))


def _store_unit(intake: Intake, files: Sequence[IntakeFile]) -> None:
    by = _get_viewer(intake)
    questions.ask_about_files(intake, files)
    assigned = grouping.combine_lines([file.assignment for file in files])
    uploads = _get_unit_uploads(files, assigned)
    placement.check_staff(by, intake.night)
    _read_all(uploads)
    questions.ask_about_tag(by, intake, files, assigned)
    place = placement.find_placement(by, intake.night, assigned)
    questions.ask_about_ratio(place.device.design if place.device else place.design, files, assigned)
    asked = RequestedTest(
        uploads,
        placement.get_unit_settings(place, assigned),
        assigned.measured_on or intake.night.held_on,
        intake.night,
    )
    already = None if place.device is None else tests.find_same_test(place.device, asked)
    if already is not None:
        with transaction.atomic():
            placement.ensure_device(by, intake.night, place, assigned)
            _mark_unit_stored(intake, files, already)
        return
    computed = preparation.compute_test(by, asked, device=place.device)
    with transaction.atomic():
        device = placement.ensure_device(by, intake.night, place, assigned)
        tests.store_test(
            by=by,
            device=device,
            computed=computed,
            also=lambda stored: _mark_unit_stored(intake, files, stored),
        )


def _read_all(uploads: dict[str, Upload]) -> None:
    """Raise a file's own fault before any tag is looked up: what cannot be read finds no device."""
    for role, upload in uploads.items():
        file_endings.check_ending(upload.data, upload.name, role=role)
        reading.read_sweep(upload.data, upload.name, role=role)


def _get_unit_uploads(files: Sequence[IntakeFile], assigned: UnitAssignment) -> dict[str, Upload]:
    for file in files:
        if not file.raw:
            raise BenchnightError(
                "intake.not_sent",
                "The manifest names this file, but it did not come or is empty. Send it.",
                field="file",
                line=_get_manifest_line(file),
            )
    return {
        role: Upload(file.name, bytes(file.raw)) for role, file in zip(assigned.roles, files, strict=True)
    }


def _mark_unit_stored(intake: Intake, files: Sequence[IntakeFile], stored: WriteResult) -> None:
    """Note the end of a unit in the transaction that stores its test; the bytes are the test's now."""
    leases.renew_lease(intake)
    test = Test.objects.get(key=stored.key)
    IntakeFile.objects.filter(pk__in=[file.pk for file in files]).update(
        state=STORED if stored.created else ALREADY_THERE, test=test, reason="", question={}, raw=b""
    )


def _refuse_unit(intake: Intake, files: Sequence[IntakeFile], error: BenchnightError) -> None:
    """Refuse every file of the unit; the one at fault says why, the others name it."""
    at_fault = _find_file_at_fault(files, error)
    with transaction.atomic():
        leases.renew_lease(intake)
        for file in files:
            reason = describe_refusal(error)
            if at_fault is not None and file.pk != at_fault.pk and not questions.describe_question(error):
                reason = f"It belongs to one test with {at_fault.name}, which was refused: {reason}"
            IntakeFile.objects.filter(pk=file.pk).update(
                state=REFUSED, reason=reason, question=questions.describe_question(error)
            )
        # a run through many tags leaves its trace, whoever drops the files afterwards
        audit.record_action(
            by=_get_account(intake),
            action="intake.refuse",
            subject=intake.key,
            numbers=[file.number for file in files],
            code=error.errors[0].code,
        )


def describe_refusal(error: BenchnightError) -> str:
    """Explain why a file was refused, with line and column where there are any."""
    parts = []
    asked = bool(questions.describe_question(error))
    for fault in error.errors:
        where = []
        if fault.line is not None:
            where.append(f"line {fault.line}")
        if fault.field in manifests.KNOWN_COLUMNS and not (asked and fault.line is None):
            where.append(f"column {fault.field}")
        text = ", ".join(where)
        parts.append(f"{text[:1].upper()}{text[1:]}: {fault.detail}" if text else fault.detail)
    return " ".join(parts)


def _find_file_at_fault(files: Sequence[IntakeFile], error: BenchnightError) -> IntakeFile | None:
    """Return the one file that an error is about, by its role or its line; None where it is about them
    all.
    """
    if len(files) < 2:
        return None
    fault = error.errors[0]
    for file in files:
        in_manifest = (
            fault.field in manifests.KNOWN_COLUMNS
            and fault.line is not None
            and _get_manifest_line(file) == fault.line
        )
        if in_manifest or grouping.get_line_role(file.assignment) == fault.field:
            return file
    return None


def _get_manifest_line(file: IntakeFile) -> int | None:
    line = file.assignment.get(manifests.LINE_KEY)
    return line if isinstance(line, int) else None


def _get_viewer(intake: Intake) -> Viewer:
    """Return the member who handed it in, with the rights that the account has now."""
    account = intake.made_by
    if account is None or not account.is_active:
        raise BenchnightError(
            "intake.nobody", "The account that handed this in is gone or suspended. Hand it in again."
        )
    return _build_viewer(account)


def _get_account(intake: Intake) -> Viewer | None:
    account = intake.made_by
    return None if account is None else _build_viewer(account)


def _build_viewer(account: Member) -> Viewer:
    return Viewer(account.pk, account.name, account.role, keeps_kit=account.keeps_kit)  # type: ignore[arg-type]


@task()
def process_in_background(intake: str) -> None:
    """Works on one intake; harmless where another worker does already, or it is done."""
    process_intake(intake=intake)


def enqueue_intake(intake: str) -> None:
    """Has a worker take the intake up, once what was just written is committed."""
    transaction.on_commit(partial(process_in_background.enqueue, intake))
