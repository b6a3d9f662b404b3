"""One refused file of an intake: what is wrong with it, and sending it again alone."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import intakes as hand_in
from measurements.ingest import staging
from measurements.ingest.uploads import Upload
from measurements.pages import door, faults, night_words
from measurements.pages.bench import FileField
from measurements.pages.design_choice import designs_by_title
from measurements.pages.forms.assignment import AssignmentForm
from measurements.pages.received_files import Received, received
from measurements.pages.views.intakes import intake_address, of_night
from measurements.queries import nights
from measurements.queries.rows_of_nights import IntakeFileRow, NightRow

FILE = FileField(
    "sweep",
    "Another file in its place",
    "Only if the file itself was at fault; otherwise the one that came is read again.",
    required=False,
)


def mend(request: HttpRequest, viewer: Viewer, key: str, intake: str, number: int) -> HttpResponse:
    """GET: the file's assignment as a form. POST: send it again with what is mended, or `drop` it."""
    night, row = nights.one(viewer, key), of_night(viewer, key, intake)
    file = next((each for each in row.files if each.number == int(number)), None)
    if file is None:
        raise BenchnightError("intake.no_file", "This intake has no file of that number.", kind="not_found")
    if file.state != "refused":
        return HttpResponseRedirect(intake_address(key, intake))
    offered = designs_by_title(viewer)
    if request.method != "POST":
        return _page(
            request, night, intake, file, AssignmentForm(initial=file.assignment, designs=offered), Received()
        )
    if "drop" in request.POST:
        hand_in.drop(by=viewer, intake=intake, number=file.number)
        messages.success(request, f"{file.file} is dropped.")
        return HttpResponseRedirect(intake_address(key, intake))
    form = AssignmentForm(request.POST, initial=file.assignment, designs=offered)
    files = received(request, viewer, (FILE,))
    if form.is_valid() and not files.faults and _sent(viewer, intake, file, form, files):
        staging.drop(by=viewer, keys=[held.key for held in files.held.values()])
        messages.success(request, f"{file.file} is sent again.")
        return HttpResponseRedirect(intake_address(key, intake))
    return _page(request, night, intake, file, form, files, status=422)


def _sent(viewer: Viewer, intake: str, file: IntakeFileRow, form: AssignmentForm, files: Received) -> bool:
    """Whether it was taken; the faults stand in the form where it was not."""
    held = files.held.get(FILE.role)
    try:
        hand_in.mend(
            by=viewer,
            intake=intake,
            number=file.number,
            upload=Upload(held.name, held.data) if held is not None else None,
            assignment=form.assignment(),
        )
    except BenchnightError as error:
        faults.show(form, error)
        return False
    return True


def _page(
    request: HttpRequest,
    night: NightRow,
    intake: str,
    file: IntakeFileRow,
    form: AssignmentForm,
    files: Received,
    *,
    status: int = 200,
) -> HttpResponse:
    slots = files.slots((FILE,))
    context = {
        "night": night,
        "title": night_words.title(night),
        "intake": intake,
        "file": file,
        "form": form,
        "slot": slots[0],
        "slots": slots,
    }
    return door.render(request, "intake_file.html", context, status=status)
