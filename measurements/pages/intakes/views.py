"""One refused file of an intake: what is wrong with it, and sending it again alone."""

from __future__ import annotations

import json
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs.presenters import list_designs_by_title
from measurements.pages.intakes import file_lists, forms
from measurements.pages.intakes.forms import AssignmentForm
from measurements.pages.layout import cautions, form_handling, rendering
from measurements.pages.layout.procedures import FileField
from measurements.pages.nights import presenters
from measurements.pages.uploads.staged_files import ReceivedFiles, receive_files
from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.selectors.intakes.intakes import IntakeFileRow, IntakeRow
from measurements.selectors.nights import nights
from measurements.selectors.nights.rows import NightRow
from measurements.services.intakes import answers, manifests
from measurements.services.intakes import intakes as intakes_services
from measurements.services.operations.audit import WriteResult
from measurements.services.uploads import staging
from measurements.services.uploads.uploads import Upload

# Many files of a night at once: handing them in, and following each to its end.

MAX_NAMES = 500

MOST_QUESTIONS, MOST_TO_MEND = 12, 20  # on one page; the others come up as these are answered

ACCEPTED = 202

FOLDER_CHOICES = (
    ("people", "owners on the list"),
    ("contributor", "who brought it"),
    ("tag", "the tag"),
    ("nothing", "nothing"),
)


def show_intake_form(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: choose the files and say what they are. POST: take them all in as one intake."""
    night = nights.get_night(viewer, key)
    if request.method != "POST":
        return _render_intake_form(request, viewer, night)
    try:
        stored = _start_intake(request, viewer, key)
    except BenchnightError as error:
        if _wants_json(request):
            return JsonResponse({"faults": _list_faults(error)}, status=rendering.STATUS_BY_KIND[error.kind])
        return _render_intake_form(request, viewer, night, faults=_list_faults(error), status=422)
    address = get_intake_url(key, stored.key)
    if _wants_json(request):
        return JsonResponse({"address": address}, status=ACCEPTED)
    return HttpResponseRedirect(address)


def _start_intake(request: HttpRequest, viewer: Viewer, key: str) -> WriteResult:
    archive = request.FILES.get("archive")
    if archive is not None:
        return intakes_services.begin_zip_intake(
            by=viewer, night=key, archive=Upload(archive.name or "night.zip", archive.read())
        )
    files = [Upload(file.name or "unnamed", file.read()) for file in request.FILES.getlist("sweep")]
    return intakes_services.begin_intake(by=viewer, night=key, files=files, manifest=_read_manifest(request))


def _read_manifest(request: HttpRequest) -> str | None:
    """Return the manifest as a file, which is also what the page makes of its table."""
    file = request.FILES.get("manifest")
    return None if file is None else manifests.decode_manifest(file.read())


def _list_faults(error: BenchnightError) -> list[dict[str, Any]]:
    return [
        {"field": fault.field, "detail": f"{fault.detail}{f' (line {fault.line})' if fault.line else ''}"}
        for fault in error.errors
    ]


def _render_intake_form(
    request: HttpRequest,
    viewer: Viewer,
    night: NightRow,
    *,
    faults: list[dict[str, Any]] | None = None,
    status: int = 200,
) -> HttpResponse:
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "faults": faults or [],
        "designs": list_designs_by_title(viewer),
        "tags_here": json.dumps(presenters.group_owners_by_tag(night.devices)),
        "kinds": forms.KIND_CHOICES,
        "methods": forms.METHOD_CHOICES,
        "roles": forms.ROLE_CHOICES,
        "folders": FOLDER_CHOICES,
        "most_bytes": settings.BENCHNIGHT_INTAKE_BODY_BYTES,
        "most_mib": settings.BENCHNIGHT_INTAKE_BODY_BYTES // (1024 * 1024),
        "most_files": settings.BENCHNIGHT_INTAKE_ENTRIES,
        "sweep_bytes": settings.BENCHNIGHT_SWEEP_BYTES,
        "cautions": cautions.list_cautions("night"),
    }
    return rendering.render_page(request, "intakes/form.html", context, status=status)


def download_manifest(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: an empty manifest. POST: one filled with what `names`, one a line, suggest."""
    names = [line.strip() for line in request.POST.get("names", "").splitlines() if line.strip()]
    if len(names) > MAX_NAMES:
        raise BenchnightError("manifest.too_many", f"Ask for up to {MAX_NAMES} files at once.", field="names")
    folders = request.POST.get("folders", "people")
    text = intakes_services.make_manifest_template(by=viewer, night=key, names=names, folders=folders)
    response = HttpResponse(text, content_type="text/csv; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="manifest.csv"'
    return response


def show_intake(request: HttpRequest, viewer: Viewer, key: str, intake: str) -> HttpResponse:
    """GET: an intake: its questions, what is to be mended, its files. POST: answer one question."""
    night, row = nights.get_night_head(viewer, key), get_night_intake(viewer, key, intake)
    if request.method == "POST":
        return _answer_question(request, viewer, key, row)
    listed = file_lists.sort_files(row.files, request.GET)
    asked = file_lists.list_questions(row.files)
    refused = [file for file in row.files if file.state == "refused" and not file.question]
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "intake": row,
        "words": presenters.format_intake_progress(row),
        "listed": listed,
        "files": [(file, presenters.get_file_badge(file), _get_test_url(file)) for file in listed.lines],
        "refused": refused[:MOST_TO_MEND],
        "more_refused": max(0, len(refused) - MOST_TO_MEND),
        "questions": asked[:MOST_QUESTIONS],
        "more_questions": max(0, len(asked) - MOST_QUESTIONS),
        "designs": list_designs_by_title(viewer) if any(each.is_new for each in asked) else (),
        "states": file_lists.list_file_states(),
        "orders": file_lists.ORDERS.items(),
        "running": row.state != "done",
    }
    return rendering.render_page(request, "intakes/intake.html", context)


def _answer_question(request: HttpRequest, viewer: Viewer, key: str, row: IntakeRow) -> HttpResponse:
    given = {name: request.POST[name].strip() for name in request.POST if request.POST[name].strip()}
    try:
        count = answers.answer_question(
            by=viewer,
            intake=row.key,
            group=given.get("question", ""),
            answer=given.get("answer", ""),
            given=given,
        )
    except BenchnightError as error:
        if error.kind in ("forbidden", "not_found"):
            raise
        messages.warning(request, error.detail)
    else:
        messages.success(request, f"Answered for {count} file{'' if count == 1 else 's'}.")
    return HttpResponseRedirect(get_intake_url(key, row.key))


def show_intake_state(request: HttpRequest, viewer: Viewer, key: str, intake: str) -> HttpResponse:
    """GET: how far it is, as JSON; files are named again only where more than `known` have ended."""
    row = get_night_intake(viewer, key, intake)
    known = request.GET.get("known", "")
    news = not known.isdecimal() or int(known) != row.done or row.state == "done"
    return JsonResponse(
        {
            "state": row.state,
            "done": row.done,
            "total": row.total,
            "words": presenters.format_intake_progress(row),
            "questions": sum(bool(file.question) for file in row.files),
            "files": [_serialise_file(key, intake, file) for file in row.files] if news else [],
        }
    )


def get_intake_url(key: str, intake: str) -> str:
    """Return address of an intake's page."""
    return reverse("pages:intake", kwargs={"key": key, "intake": intake})


def get_intake_file_url(key: str, intake: str, number: int) -> str:
    """Return address of the page that mends one file."""
    return reverse("pages:intake_file", kwargs={"key": key, "intake": intake, "number": number})


def get_night_intake(viewer: Viewer, key: str, intake: str) -> IntakeRow:
    """Return an intake of that very night. Raises BenchnightError `intake.not_found`."""
    row = intakes_selectors.get_intake(viewer, intake)
    if row.night != key:
        raise BenchnightError("intake.not_found", "There is no such intake of yours.", kind="not_found")
    return row


def _serialise_file(key: str, intake: str, file: IntakeFileRow) -> dict[str, Any]:
    said = presenters.get_file_badge(file)
    refused = file.state == "refused" and not file.question
    mend = get_intake_file_url(key, intake, file.number) if refused else None
    return {
        "number": file.number,
        "name": file.file,
        "state": file.state,
        "word": said.short,
        "shape": said.shape,
        "look": said.look,
        "reason": forms.translate_columns(file.reason),
        "test": _get_test_url(file),
        "mend": mend,
    }


def _get_test_url(file: IntakeFileRow) -> str | None:
    return reverse("pages:test", kwargs={"key": file.test}) if file.test else None


def _wants_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept") == "application/json"


REPLACEMENT_FILE = FileField(
    "sweep",
    "Another file in its place",
    "Only if the file itself was at fault; otherwise the one that came is read again.",
    required=False,
)


def show_intake_file(
    request: HttpRequest, viewer: Viewer, key: str, intake: str, number: int
) -> HttpResponse:
    """GET: the file's assignment as a form. POST: send it again with what is mended, or `drop` it."""
    night, row = nights.get_night(viewer, key), get_night_intake(viewer, key, intake)
    file = next((each for each in row.files if each.number == int(number)), None)
    if file is None:
        raise BenchnightError("intake.no_file", "This intake has no file of that number.", kind="not_found")
    if file.state != "refused":
        return HttpResponseRedirect(get_intake_url(key, intake))
    offered = list_designs_by_title(viewer)
    if request.method != "POST":
        return _render_intake_file(
            request,
            night,
            intake,
            file,
            AssignmentForm(initial=file.assignment, designs=offered),
            ReceivedFiles(),
        )
    if "drop" in request.POST:
        intakes_services.drop_file(by=viewer, intake=intake, number=file.number)
        messages.success(request, f"{file.file} is dropped.")
        return HttpResponseRedirect(get_intake_url(key, intake))
    form = AssignmentForm(request.POST, initial=file.assignment, designs=offered)
    files = receive_files(request, viewer, (REPLACEMENT_FILE,))
    if form.is_valid() and not files.faults and _resend_file(viewer, intake, file, form, files):
        staging.drop_staged_files(by=viewer, keys=[held.key for held in files.held.values()])
        messages.success(request, f"{file.file} is sent again.")
        return HttpResponseRedirect(get_intake_url(key, intake))
    return _render_intake_file(request, night, intake, file, form, files, status=422)


def _resend_file(
    viewer: Viewer, intake: str, file: IntakeFileRow, form: AssignmentForm, files: ReceivedFiles
) -> bool:
    """Say whether the service took it; otherwise the form holds the errors."""
    held = files.held.get(REPLACEMENT_FILE.role)
    try:
        intakes_services.correct_file(
            by=viewer,
            intake=intake,
            number=file.number,
            upload=Upload(held.name, held.data) if held is not None else None,
            assignment=form.assignment(),
        )
    except BenchnightError as error:
        form_handling.add_error_to_form(form, error)
        return False
    return True


def _render_intake_file(
    request: HttpRequest,
    night: NightRow,
    intake: str,
    file: IntakeFileRow,
    form: AssignmentForm,
    files: ReceivedFiles,
    *,
    status: int = 200,
) -> HttpResponse:
    slots = files.slots((REPLACEMENT_FILE,))
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "intake": intake,
        "file": file,
        "form": form,
        "slot": slots[0],
        "slots": slots,
    }
    return rendering.render_page(request, "intakes/file.html", context, status=status)
