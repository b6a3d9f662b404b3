"""Many files of a night at once: handing them in, and following each to its end."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import intakes as hand_in
from measurements.ingest import manifest
from measurements.ingest.stored import Stored
from measurements.ingest.uploads import Upload
from measurements.pages import cautions, door, night_words
from measurements.pages.design_choice import designs_by_title
from measurements.pages.forms import assignment
from measurements.queries import intakes, nights
from measurements.queries.rows_of_nights import IntakeFileRow, IntakeRow, NightRow

MOST_NAMES = 500
ACCEPTED = 202


def hand_in_page(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: choose the files and say what they are. POST: take them all in as one intake."""
    night = nights.one(viewer, key)
    if request.method != "POST":
        return _form_page(request, viewer, night)
    try:
        stored = _begun(request, viewer, key)
    except BenchnightError as error:
        if _asks_for_json(request):
            return JsonResponse({"faults": _faults(error)}, status=door.STATUS[error.kind])
        return _form_page(request, viewer, night, faults=_faults(error), status=422)
    address = intake_address(key, stored.key)
    if _asks_for_json(request):
        return JsonResponse({"address": address}, status=ACCEPTED)
    return HttpResponseRedirect(address)


def _begun(request: HttpRequest, viewer: Viewer, key: str) -> Stored:
    archive = request.FILES.get("archive")
    if archive is not None:
        return hand_in.begin_zip(
            by=viewer, night=key, archive=Upload(archive.name or "night.zip", archive.read())
        )
    files = [Upload(file.name or "unnamed", file.read()) for file in request.FILES.getlist("sweep")]
    return hand_in.begin(by=viewer, night=key, files=files, manifest=_manifest(request))


def _manifest(request: HttpRequest) -> str | None:
    """The manifest as a file, which is also what the page makes of its table."""
    file = request.FILES.get("manifest")
    return None if file is None else manifest.decoded(file.read())


def _faults(error: BenchnightError) -> list[dict[str, Any]]:
    return [
        {"field": fault.field, "detail": f"{fault.detail}{f' (line {fault.line})' if fault.line else ''}"}
        for fault in error.errors
    ]


def _form_page(
    request: HttpRequest,
    viewer: Viewer,
    night: NightRow,
    *,
    faults: list[dict[str, Any]] | None = None,
    status: int = 200,
) -> HttpResponse:
    context = {
        "night": night,
        "title": night_words.title(night),
        "faults": faults or [],
        "designs": designs_by_title(viewer),
        "tags_here": json.dumps(night_words.owners_by_tag(night.devices)),
        "kinds": assignment.KIND_CHOICES,
        "methods": assignment.METHOD_CHOICES,
        "roles": assignment.ROLE_CHOICES,
        "most_bytes": settings.BENCHNIGHT_INTAKE_BODY_BYTES,
        "most_mib": settings.BENCHNIGHT_INTAKE_BODY_BYTES // (1024 * 1024),
        "most_files": settings.BENCHNIGHT_INTAKE_ENTRIES,
        "sweep_bytes": settings.BENCHNIGHT_SWEEP_BYTES,
        "cautions": cautions.AT_NIGHT,
    }
    return door.render(request, "intake_form.html", context, status=status)


def template(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: an empty manifest. POST: one filled with what `names`, one a line, suggest."""
    names = [line.strip() for line in request.POST.get("names", "").splitlines() if line.strip()]
    if len(names) > MOST_NAMES:
        raise BenchnightError(
            "manifest.too_many", f"Ask for up to {MOST_NAMES} files at once.", field="names"
        )
    text = hand_in.template(by=viewer, night=key, names=names)
    response = HttpResponse(text, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="manifest.csv"'
    return response


def one(request: HttpRequest, viewer: Viewer, key: str, intake: str) -> HttpResponse:
    """GET: an intake, file by file."""
    night, row = nights.one(viewer, key), of_night(viewer, key, intake)
    context = {
        "night": night,
        "title": night_words.title(night),
        "intake": row,
        "words": night_words.intake_words(row),
        "files": [(file, night_words.file_said(file), _test_address(file)) for file in row.files],
        "refused": [file for file in row.files if file.state == "refused"],
        "running": row.state != "done",
    }
    return door.render(request, "intake.html", context)


def state(request: HttpRequest, viewer: Viewer, key: str, intake: str) -> HttpResponse:
    """GET: how far it is, as JSON; files are named again only where more than `known` have ended."""
    row = of_night(viewer, key, intake)
    known = request.GET.get("known", "")
    news = not known.isdecimal() or int(known) != row.done or row.state == "done"
    return JsonResponse(
        {
            "state": row.state,
            "done": row.done,
            "total": row.total,
            "words": night_words.intake_words(row),
            "files": [_as_json(key, intake, file) for file in row.files] if news else [],
        }
    )


def intake_address(key: str, intake: str) -> str:
    """Address of an intake's page."""
    return reverse("pages:intake", kwargs={"key": key, "intake": intake})


def mend_address(key: str, intake: str, number: int) -> str:
    """Address of the page that mends one file."""
    return reverse("pages:intake_file", kwargs={"key": key, "intake": intake, "number": number})


def of_night(viewer: Viewer, key: str, intake: str) -> IntakeRow:
    """An intake of that very night. Raises BenchnightError `intake.not_found`."""
    row = intakes.one(viewer, intake)
    if row.night != key:
        raise BenchnightError("intake.not_found", "There is no such intake of yours.", kind="not_found")
    return row


def _as_json(key: str, intake: str, file: IntakeFileRow) -> dict[str, Any]:
    said = night_words.file_said(file)
    mend = mend_address(key, intake, file.number) if file.state == "refused" else None
    return {
        "number": file.number,
        "state": file.state,
        "word": said.short,
        "shape": said.shape,
        "look": said.look,
        "reason": assignment.in_words(file.reason),
        "test": _test_address(file),
        "mend": mend,
    }


def _test_address(file: IntakeFileRow) -> str | None:
    return reverse("pages:test", kwargs={"key": file.test}) if file.test else None


def _asks_for_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept") == "application/json"
