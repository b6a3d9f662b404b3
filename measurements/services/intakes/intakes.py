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
from measurements.disclosure.policy import NightStaff
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.models import Intake, IntakeFile, Night, NightOperator
from measurements.services.devices import attendance
from measurements.services.intakes import file_rows, filename_hints, grouping, leases, manifests, processing
from measurements.services.intakes.grouping import SHARED_COLUMNS
from measurements.services.intakes.tag_likeness import fold_tag
from measurements.services.operations import audit
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import preparation
from measurements.services.uploads import archives
from measurements.services.uploads.uploads import Upload

BATCH = 50
NEVER_TAKEN_UP = timedelta(seconds=60)  # a queue that lost the task, or a server that fell before it had it


def begin_intake(
    *, by: Viewer, night: str, files: Sequence[Upload], manifest: str | None = None
) -> WriteResult:
    """Store every file in one transaction, then has a worker turn them into tests. Answers the intake.

    manifest: see `manifest.rows_of`; without one every file waits, refused, for its assignment (`mend`).
    Raises BenchnightError: `manifest.*`, `intake.*`, `night.closed`; nothing is stored then.
    """
    found = attendance.get_open_night(by, night)
    file_rows.check_files(found, files)
    made = file_rows.build_file_rows(files, file_rows.parse_manifest_rows(manifest))
    with transaction.atomic():
        intake = Intake.objects.create(night=found, made_by_id=by.member_id)
        for file in made:
            file.intake = intake
        IntakeFile.objects.bulk_create(made, batch_size=BATCH)
        audit.record_action(
            by=by, action="intake.begin", subject=intake.key, night=found.key, files=len(made)
        )
        processing.enqueue_intake(intake.key)
    return WriteResult(intake.key, created=True)


def begin_zip_intake(*, by: Viewer, night: str, archive: Upload) -> WriteResult:
    """Return the same from a zip of sweeps and a manifest.csv. Raises BenchnightError also `zip.*`."""
    attendance.get_open_night(by, night)
    files, table = archives.unpack_zip(archive)
    text = None if table is None else manifests.decode_manifest(table)
    return begin_intake(by=by, night=night, files=files, manifest=text)


def correct_file(
    *,
    by: Viewer,
    intake: str,
    number: int,
    upload: Upload | None = None,
    assignment: Mapping[str, Any] | None = None,
) -> None:
    """Send one refused file again: with other bytes, with another assignment, or as it is.

    assignment: columns of the manifest that replace those of the file; others stay. What is said of the
    test (tag, owner, kind, method, ratio, ...) counts for the files that were refused with it, which go
    along; the role is this file's alone. Nothing that is stored is touched.
    Raises BenchnightError `intake.not_found`, `intake.not_refused`, `intake.column`.
    """
    correct_files(by=by, intake=intake, assignments={number: assignment or {}}, uploads={number: upload})


def correct_files(
    *,
    by: Viewer,
    intake: str,
    assignments: Mapping[int, Mapping[str, Any]],
    uploads: Mapping[int, Upload | None] | None = None,
) -> None:
    """Retry several refused files at once, by number, so that those of one test meet.

    Raises as `mend`; nothing is changed then.
    """
    found = get_intake_for_staff(by, intake)
    for upload in (uploads or {}).values():
        if upload is not None:
            file_rows.check_file_size(upload)
    with transaction.atomic():
        Intake.objects.select_for_update().get(pk=found.pk)
        for number, given in assignments.items():
            _update_file(found, _get_refused_file(found, number), given, (uploads or {}).get(number))
        grouping.requeue_refused_files(found, set(assignments))
        _requeue_intake(found)
        audit.record_action(by=by, action="intake.mend", subject=found.key, numbers=sorted(assignments))


def drop_file(*, by: Viewer, intake: str, number: int) -> None:
    """Take a refused file out of an intake, bytes and all: nobody wants to mend it.

    Raises BenchnightError `intake.not_found`, `intake.not_refused`.
    """
    found = get_intake_for_staff(by, intake)
    with transaction.atomic():
        _get_refused_file(found, number).delete()
        audit.record_action(by=by, action="intake.drop", subject=found.key, number=number)


def make_manifest_template(*, by: Viewer, night: str, names: Sequence[str], folders: str = "people") -> str:
    """Return a CSV manifest with a line for each file name, filled with what the names and the night
    suggest.
    """
    return manifests.format_manifest(suggest_manifest_rows(by=by, night=night, names=names, folders=folders))


def suggest_manifest_rows(
    *, by: Viewer, night: str, names: Sequence[str], folders: str = "people"
) -> tuple[dict[str, str], ...]:
    """Return the same lines as column -> text, for a page that shows them to be corrected.

    names: with their folders, where there are any. folders: what folders are, one of
    `filename_hints.FOLDERS`; a folder is a tag only where somebody says so here.
    Raises BenchnightError `intake.folders`.
    """
    found = attendance.get_night_for_staff(by, night)
    if folders not in filename_hints.FOLDERS:
        raise BenchnightError(
            "intake.folders", f"Folders are one of: {', '.join(filename_hints.FOLDERS)}.", field="folders"
        )
    owners = _list_owners_by_tag(found)
    known = filename_hints.KnownNames(
        tags=[tag for tag, _ in owners.values()],
        people=list(found.attendance.values_list("name", flat=True)),
        folders=folders,
    )
    return tuple(_suggest_row(known, owners, name) for name in names)


def work_on_intake(*, intake: str) -> None:
    """Works on an intake here and now, as its task does."""
    processing.process_intake(intake=intake)


def resume_stale_intakes(*, here: bool = False) -> int:
    """Hand intakes whose worker died, or that nobody took up, to a new one; answers how many.

    here: works on them in this process, in place of the background.
    Harmless as often as it is called: a worker that is alive keeps what it has.
    """
    now = timezone.now()
    waiting = IntakeFile.objects.filter(intake=OuterRef("pk"), state=IntakeFile.State.WAITING)
    dead = Q(state=Intake.State.RUNNING) & leases.build_lapsed_filter(now)
    forgotten = Q(state=Intake.State.QUEUED, made_at__lt=now - NEVER_TAKEN_UP)
    keys = list(
        Intake.objects.filter(dead | (forgotten & Exists(waiting)))
        .order_by("pk")
        .values_list("key", flat=True)
    )
    for key in keys:
        if here:
            processing.process_intake(intake=key)
        else:
            processing.enqueue_intake(key)
    return len(keys)


def has_unfinished_intakes() -> bool:
    """Say whether any intake still has a file to work on, or a worker."""
    return Intake.objects.exclude(state=Intake.State.DONE).exists()


def _get_refused_file(intake: Intake, number: int) -> IntakeFile:
    file = intake.files.filter(number=number).first()
    if file is None:
        raise policy.build_not_found("intake")
    if file.state != IntakeFile.State.REFUSED:
        raise BenchnightError(
            "intake.not_refused",
            "Only a refused file is sent again or dropped; this one is stored or still waiting.",
            kind="conflict",
        )
    return file


def _list_owners_by_tag(night: Night) -> dict[str, tuple[str, list[tuple[str, str]]]]:
    """Return each tag of the bench, folded, as written, with owner and ratio of each device of this tag.

    A member's device came by its label: its owner is not named.
    """
    owners: dict[str, tuple[str, list[tuple[str, str]]]] = {}
    here = night.brought.live().select_related("device__contributor__member", "device__design")
    for device in (brought.device for brought in here):
        person = "" if device.contributor.member else device.contributor.guest_name
        ratio = device.design.ratio if device.design else ""
        owners.setdefault(fold_tag(device.tag), (device.tag, []))[1].append((person, ratio))
    return owners


def _suggest_row(
    known: filename_hints.KnownNames, owners: Mapping[str, tuple[str, list[tuple[str, str]]]], name: str
) -> dict[str, str]:
    """Combine the hints of the name with the owner of a device of this tag already on the bench.

    A tag that nothing on the bench has comes from the name alone: it takes a tick to become a new device.
    """
    found = filename_hints.guess_line(name, known)
    row = {"file": preparation.clean_file_name(name), **asdict(found), manifests.NEW_DEVICE: ""}
    row["tag"], here = owners.get(fold_tag(found.tag), (found.tag, []))
    if len(here) == 1:
        row["contributor"] = row["contributor"] or here[0][0]
        row["ratio"] = row["ratio"] or here[0][1]
    if found.tag and not here:
        row[manifests.NEW_DEVICE] = "no"
    return row


def _requeue_intake(intake: Intake) -> None:
    """Queue it again; a worker that is at it finds the file by itself."""
    Intake.objects.filter(pk=intake.pk, state=Intake.State.DONE).update(
        state=Intake.State.QUEUED, finished_at=None, alive_until=None, worker=""
    )
    processing.enqueue_intake(intake.key)


def get_intake_for_staff(by: Viewer, key: str) -> Intake:
    """Return an intake, when `by` runs its night. Raises BenchnightError `intake.not_found` otherwise."""
    policy.check_operator(by)
    found = Intake.objects.select_related("night").filter(key=key).first()
    if found is None:
        raise policy.build_not_found("intake")
    if not policy.can_alter_night(by, NightStaff(NightOperator.objects.of_night(found.night_id))):
        raise policy.build_not_found("intake")
    return found


def _update_file(intake: Intake, file: IntakeFile, given: Mapping[str, Any], upload: Upload | None) -> None:
    """Store the new settings of a file, and of its test."""
    texts = _clean_assignment(given)
    of_test = {name: text for name, text in texts.items() if name in SHARED_COLUMNS}
    for other in grouping.list_refused_with(intake, file):
        new = texts if other.pk == file.pk else of_test
        # a line of the manifest whose words were replaced says no longer where to look
        kept = {
            name: value for name, value in other.assignment.items() if name != manifests.LINE_KEY or not new
        }
        IntakeFile.objects.filter(pk=other.pk).update(assignment={**kept, **new})
    if upload is not None:
        IntakeFile.objects.filter(pk=file.pk).update(
            name=preparation.clean_file_name(upload.name),
            raw=upload.data,
            raw_sha256=preparation.hash_upload(upload),
        )


def _clean_assignment(given: Mapping[str, Any]) -> dict[str, str]:
    unknown = sorted(set(given) - set(manifests.KNOWN_COLUMNS))
    if unknown:
        raise BenchnightError(
            "intake.column",
            f"There is no such column; these can be given: {', '.join(manifests.KNOWN_COLUMNS[1:])}.",
            field=unknown[0],
        )
    texts = {
        name: " ".join(str(value or "").split())
        for name, value in given.items()
        if name != manifests.COLUMNS[0]
    }
    for name, text in texts.items():
        if len(text) > manifests.MOST_CELL or not text.isprintable():
            raise BenchnightError(
                "manifest.too_long", f"Keep this under {manifests.MOST_CELL} plain characters.", field=name
            )
    return texts
