"""Takes in many files of a night at once: all of them are stored first, then a worker makes tests of them."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import asdict
from datetime import timedelta
from typing import Any

from django.db import transaction
from django.db.models import Exists, OuterRef, Q
from django.utils import timezone

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.disclosure.policy import NightStaff
from measurements.errors import BenchnightError
from measurements.ingest import (
    audit,
    intake_files,
    intake_lease,
    intake_tasks,
    intake_units,
    intake_work,
    manifest_guess,
    night_access,
    recording,
    zip_reading,
)
from measurements.ingest import manifest as sheet
from measurements.ingest.assignments import SHARED
from measurements.ingest.stored import Stored
from measurements.ingest.uploads import Upload
from measurements.models import Intake, IntakeFile, Night, NightOperator

BATCH = 50
NEVER_TAKEN_UP = timedelta(seconds=60)  # a queue that lost the task, or a server that fell before it had it


def begin(*, by: Viewer, night: str, files: Sequence[Upload], manifest: str | None = None) -> Stored:
    """Stores every file in one transaction, then has a worker turn them into tests. Answers the intake.

    manifest: see `manifest.rows_of`; without one every file waits, refused, for its assignment (`mend`).
    Raises BenchnightError: `manifest.*`, `intake.*`, `night.closed`; nothing is stored then.
    """
    found = night_access.still_open(by, night)
    intake_files.check(found, files)
    made = intake_files.of(files, intake_files.lines(manifest))
    with transaction.atomic():
        intake = Intake.objects.create(night=found, made_by_id=by.member_id)
        for file in made:
            file.intake = intake
        IntakeFile.objects.bulk_create(made, batch_size=BATCH)
        audit.note(by=by, action="intake.begin", subject=intake.key, night=found.key, files=len(made))
        intake_tasks.enqueue(intake.key)
    return Stored(intake.key, created=True)


def begin_zip(*, by: Viewer, night: str, archive: Upload) -> Stored:
    """The same from a zip of sweeps and a manifest.csv. Raises BenchnightError also `zip.*`."""
    night_access.still_open(by, night)
    files, table = zip_reading.unpacked(archive)
    text = None if table is None else sheet.decoded(table)
    return begin(by=by, night=night, files=files, manifest=text)


def mend(
    *,
    by: Viewer,
    intake: str,
    number: int,
    upload: Upload | None = None,
    assignment: Mapping[str, Any] | None = None,
) -> None:
    """Sends one refused file again: with other bytes, with another assignment, or as it is.

    assignment: columns of the manifest that replace those of the file; others stay. What is said of the
    test (tag, owner, kind, method, ratio, ...) counts for the files that were refused with it, which go
    along; the role is this file's alone. Nothing that is stored is touched.
    Raises BenchnightError `intake.not_found`, `intake.not_refused`, `intake.column`.
    """
    assign(by=by, intake=intake, assignments={number: assignment or {}}, uploads={number: upload})


def assign(
    *,
    by: Viewer,
    intake: str,
    assignments: Mapping[int, Mapping[str, Any]],
    uploads: Mapping[int, Upload | None] | None = None,
) -> None:
    """The same for several refused files at once, by number, so that those of one test meet.

    Raises as `mend`; nothing is changed then.
    """
    found = _run_by(by, intake)
    for upload in (uploads or {}).values():
        if upload is not None:
            intake_files.check_size(upload)
    with transaction.atomic():
        Intake.objects.select_for_update().get(pk=found.pk)
        for number, given in assignments.items():
            _change(found, _refused(found, number), given, (uploads or {}).get(number))
        intake_units.sent_again(found, set(assignments))
        _wake(found)
        audit.note(by=by, action="intake.mend", subject=found.key, numbers=sorted(assignments))


def drop(*, by: Viewer, intake: str, number: int) -> None:
    """Takes a refused file out of an intake, bytes and all: nobody wants to mend it.

    Raises BenchnightError `intake.not_found`, `intake.not_refused`.
    """
    found = _run_by(by, intake)
    with transaction.atomic():
        _refused(found, number).delete()
        audit.note(by=by, action="intake.drop", subject=found.key, number=number)


def template(*, by: Viewer, night: str, names: Sequence[str]) -> str:
    """A CSV manifest with a line for each file name, filled with what the names and the night suggest."""
    return sheet.written(suggest(by=by, night=night, names=names))


def suggest(*, by: Viewer, night: str, names: Sequence[str]) -> tuple[dict[str, str], ...]:
    """The same lines as column -> text, for a page that shows them to be corrected."""
    found = night_access.run_by(by, night)
    return tuple(_suggested(found, name) for name in names)


def work(*, intake: str) -> None:
    """Works on an intake here and now, as its task does."""
    intake_work.run(intake=intake)


def resume_stale(*, here: bool = False) -> int:
    """Hands intakes whose worker died, or that nobody took up, to a new one; answers how many.

    here: works on them in this process, in place of the background.
    Harmless as often as it is called: a worker that is alive keeps what it has.
    """
    now = timezone.now()
    waiting = IntakeFile.objects.filter(intake=OuterRef("pk"), state=IntakeFile.State.WAITING)
    dead = Q(state=Intake.State.RUNNING) & intake_lease.nobody_alive(now)
    forgotten = Q(state=Intake.State.QUEUED, made_at__lt=now - NEVER_TAKEN_UP)
    keys = list(
        Intake.objects.filter(dead | (forgotten & Exists(waiting)))
        .order_by("pk")
        .values_list("key", flat=True)
    )
    for key in keys:
        if here:
            intake_work.run(intake=key)
        else:
            intake_tasks.enqueue(key)
    return len(keys)


def unfinished() -> bool:
    """Whether any intake still has a file to work on, or a worker."""
    return Intake.objects.exclude(state=Intake.State.DONE).exists()


def _refused(intake: Intake, number: int) -> IntakeFile:
    file = intake.files.filter(number=number).first()
    if file is None:
        raise policy.missing("intake")
    if file.state != IntakeFile.State.REFUSED:
        raise BenchnightError(
            "intake.not_refused",
            "Only a refused file is sent again or dropped; this one is stored or still waiting.",
            kind="conflict",
        )
    return file


def _suggested(night: Night, name: str) -> dict[str, str]:
    """What the name says, and whose device of this tag was brought already, where it is one."""
    plain = recording.plain_name(name)
    found = manifest_guess.guess(plain)
    row = {"file": plain, **asdict(found), "contributor": ""}
    if found.tag:
        here = night.brought.filter(device__tag__iexact=found.tag).select_related(
            "device__contributor__member", "device__design"
        )
        devices = [brought.device for brought in here[:2]]
        if len(devices) == 1:
            owner = devices[0].contributor
            row["contributor"] = owner.guest_name if owner.member is None else owner.member.name
            row["ratio"] = row["ratio"] or devices[0].design.ratio
    return row


def _wake(intake: Intake) -> None:
    """Queues it again; a worker that is at it finds the file by itself."""
    Intake.objects.filter(pk=intake.pk, state=Intake.State.DONE).update(
        state=Intake.State.QUEUED, finished_at=None, alive_until=None, worker=""
    )
    intake_tasks.enqueue(intake.key)


def _run_by(by: Viewer, key: str) -> Intake:
    policy.check_operator(by)
    found = Intake.objects.select_related("night").filter(key=key).first()
    if found is None:
        raise policy.missing("intake")
    if not policy.can_alter_night(by, NightStaff(NightOperator.objects.of_night(found.night_id))):
        raise policy.missing("intake")
    return found


def _change(intake: Intake, file: IntakeFile, given: Mapping[str, Any], upload: Upload | None) -> None:
    """Writes what is said anew of a file, and of its test."""
    texts = _texts(given)
    of_test = {name: text for name, text in texts.items() if name in SHARED}
    for other in intake_units.together(intake, file):
        new = texts if other.pk == file.pk else of_test
        # a line of the manifest whose words were replaced says no longer where to look
        kept = {name: value for name, value in other.assignment.items() if name != sheet.LINE or not new}
        IntakeFile.objects.filter(pk=other.pk).update(assignment={**kept, **new})
    if upload is not None:
        IntakeFile.objects.filter(pk=file.pk).update(
            name=recording.plain_name(upload.name),
            raw=upload.data,
            raw_sha256=recording.sha256(upload),
        )


def _texts(given: Mapping[str, Any]) -> dict[str, str]:
    unknown = sorted(set(given) - set(sheet.KNOWN))
    if unknown:
        raise BenchnightError(
            "intake.column",
            f"There is no such column; these can be given: {', '.join(sheet.KNOWN[1:])}.",
            field=unknown[0],
        )
    texts = {
        name: " ".join(str(value or "").split()) for name, value in given.items() if name != sheet.COLUMNS[0]
    }
    for name, text in texts.items():
        if len(text) > sheet.MOST_CELL or not text.isprintable():
            raise BenchnightError(
                "manifest.too_long", f"Keep this under {sheet.MOST_CELL} plain characters.", field=name
            )
    return texts
