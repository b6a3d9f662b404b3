"""The files of an intake as rows, each beside its line of the manifest, within their limits."""

from __future__ import annotations

from collections.abc import Sequence

from django.conf import settings
from django.db.models import Sum
from django.db.models.functions import Length

from measurements.errors import BenchnightError
from measurements.models import IntakeFile, Night
from measurements.services.intakes import grouping, manifests, questions, sweep_likeness
from measurements.services.tests import preparation
from measurements.services.uploads.uploads import Upload

MEBIBYTE = 1024 * 1024
UNASSIGNED = "Nobody said yet what this file is. Give its tag, its owner and what was tested."


def build_file_rows(files: Sequence[Upload], rows: Sequence[manifests.ManifestRow]) -> list[IntakeFile]:
    """Return a row per file, in the order they came, then one for each line of the manifest whose file did
    not.
    """
    by_name = {str(row["file"]).casefold(): row for row in rows}
    names = [preparation.clean_file_name(upload.name) for upload in files]
    found = [by_name.pop(name.casefold(), None) for name in names]
    missing = [row for row in rows if str(row["file"]).casefold() in by_name]
    lines = [row or {} for row in found] + missing
    units = grouping.number_units(lines)
    made = []
    for number, (line, unit) in enumerate(zip(lines, units, strict=True), start=1):
        upload = files[number - 1] if number <= len(files) else Upload(str(line["file"]), b"")
        assigned = bool(line)
        made.append(
            IntakeFile(
                number=number,
                name=preparation.clean_file_name(upload.name),
                assignment=line,
                unit=unit,
                raw=upload.data,
                raw_sha256=preparation.hash_upload(upload),
                state=IntakeFile.State.WAITING if assigned else IntakeFile.State.REFUSED,
                reason="" if assigned else UNASSIGNED,
                question={} if assigned else _ask_about_stray(upload),
            )
        )
    return made


def _ask_about_stray(upload: Upload) -> dict[str, object]:
    """Ask whether a file that nobody described may be left out, where it looks like no sweep."""
    if sweep_likeness.looks_like_sweep(upload.name, upload.data):
        return {}
    asked = questions.build_no_sweep_question(preparation.clean_file_name(upload.name))
    return questions.describe_question(asked)


def parse_manifest_rows(manifest: str | None) -> tuple[manifests.ManifestRow, ...]:
    rows = () if manifest is None else manifests.parse_manifest(manifest)
    most = settings.BENCHNIGHT_INTAKE_ENTRIES
    if len(rows) > most:
        raise BenchnightError(
            "intake.too_many", f"Name up to {most} files at once.", kind="too_large", field="manifest"
        )
    return rows


def check_files(night: Night, files: Sequence[Upload]) -> None:
    """Check the files of an intake and the room for them. Raises BenchnightError `intake.*`, `sweep.*`."""
    check_sent_files(files)
    _check_room(night, sum(len(upload.data) for upload in files))


def check_sent_files(files: Sequence[Upload]) -> None:
    """Check number, names and sizes of files that came together. Raises BenchnightError."""
    if not files:
        raise BenchnightError("intake.empty", "Send at least one sweep.", field="sweep")
    most = settings.BENCHNIGHT_INTAKE_ENTRIES
    if len(files) > most:
        raise BenchnightError(
            "intake.too_many", f"Send up to {most} files at once.", kind="too_large", field="sweep"
        )
    seen: set[str] = set()
    for upload in files:
        name = preparation.clean_file_name(upload.name)
        if name.casefold() in seen:
            raise BenchnightError(
                "intake.same_name", f"Two files are called {name[:80]!r}. Rename one of them.", field="sweep"
            )
        seen.add(name.casefold())
        check_file_size(upload)


def check_file_size(upload: Upload) -> None:
    most = settings.BENCHNIGHT_SWEEP_BYTES
    if len(upload.data) > most:
        raise BenchnightError(
            "sweep.too_large",
            f"{preparation.clean_file_name(upload.name)[:80]!r} is larger than a file may be "
            f"({most / MEBIBYTE:g} MiB). Sweep with fewer points.",
            kind="too_large",
            field="sweep",
        )


def _check_room(night: Night, adding: int) -> None:
    """Keep waiting and refused files for correction, up to the storage limit of an account."""
    most = settings.BENCHNIGHT_MEMBER_BYTES
    held = IntakeFile.objects.filter(intake__night=night).aggregate(held=Sum(Length("raw")))["held"] or 0
    if held + adding > most:
        raise BenchnightError(
            "intake.no_room",
            f"{held / MEBIBYTE:.0f} MiB of this night's files are waiting or refused; "
            f"{most / MEBIBYTE:.0f} MiB is the most. Mend the refused ones or drop them first.",
            kind="too_large",
            field="sweep",
        )
