"""My analysers: the list, describing one, its page, and its check sweeps."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.analysers import presenters
from measurements.pages.analysers.forms import CHECK_FILES, AnalyserForm, CheckForm
from measurements.pages.layout import form_handling, rendering
from measurements.pages.uploads.staged_files import ReceivedFiles, receive_files
from measurements.selectors.analysers import analysers as selectors
from measurements.selectors.analysers.analysers import AnalyserRow
from measurements.services.analysers import analysers as services
from measurements.services.uploads.uploads import Upload


def get_analyser_url(key: str, name: str = "analyser") -> str:
    """Return address of a page of an analyser."""
    return reverse(f"pages:{name}", kwargs={"key": key})


def show_analyser_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the viewer's own analysers."""
    rows = [(row, presenters.list_used_sizes(row)) for row in selectors.list_analysers(viewer)]
    return rendering.render_page(request, "analysers/list.html", {"analysers": rows})


def show_new_analyser(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the empty form. POST: describe an analyser, then on to its check sweeps."""
    form = AnalyserForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        try:
            made = services.describe_analyser(by=viewer, **form.fields_given())
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            messages.success(request, "The analyser is described. Choose it when you upload.")
            return HttpResponseRedirect(get_analyser_url(made.key))
    status = 422 if form.errors else 200
    return rendering.render_page(request, "analysers/form.html", {"form": form}, status=status)


def show_analyser(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the analyser. POST: change it, forget it, or forget its check sweeps."""
    row = selectors.get_analyser(viewer, key)
    if request.method != "POST":
        return _render_analyser(request, row, _fill_form(row))
    if request.POST.get("do") == "forget":
        services.forget_analyser(by=viewer, analyser=key)
        messages.success(
            request, "The analyser is forgotten. Stored tests keep what they were computed with."
        )
        return HttpResponseRedirect(reverse("pages:analysers"))
    if request.POST.get("do") == "forget_checks":
        services.forget_checks(by=viewer, analyser=key)
        messages.success(request, "The check sweeps are forgotten.")
        return HttpResponseRedirect(get_analyser_url(key))
    form = AnalyserForm(request.POST)
    done = form_handling.submit_form(
        request,
        form,
        lambda: services.change_analyser(by=viewer, analyser=key, **form.fields_given()),
        said="The analyser is changed. Stored tests keep what they were computed with.",
        target=get_analyser_url(key),
    )
    return done or _render_analyser(request, row, form, status=422)


def _fill_form(row: AnalyserRow) -> AnalyserForm:
    return AnalyserForm(initial={"name": row.name, "calibration": row.calibration, **row.stated})


def _render_analyser(
    request: HttpRequest, row: AnalyserRow, form: AnalyserForm, status: int = 200
) -> HttpResponse:
    context = {
        "analyser": row,
        "form": form,
        "used": presenters.list_used_sizes(row),
        "bounds": presenters.list_measured_bounds(row),
        "notes": presenters.list_check_notes(row),
    }
    return rendering.render_page(request, "analysers/analyser.html", context, status=status)


def show_analyser_checks(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the form of the check sweeps. POST: measure the analyser with what was sent."""
    row = selectors.get_analyser(viewer, key)
    form = CheckForm(request.POST if request.method == "POST" else None)
    if request.method != "POST":
        return _render_checks(request, row, form, ReceivedFiles())
    files = receive_files(request, viewer, CHECK_FILES)
    if form.is_valid() and not files.faults:
        try:
            services.check_analyser(
                by=viewer,
                analyser=key,
                uploads={role: Upload(held.name, held.data) for role, held in files.held.items()},
                **form.cleaned_data,
            )
        except BenchnightError as error:
            _place_faults(form, files, error)
        else:
            messages.success(request, "The analyser is measured.")
            return HttpResponseRedirect(get_analyser_url(key))
    return _render_checks(request, row, form, files, status=422)


def _place_faults(form: CheckForm, files: ReceivedFiles, error: BenchnightError) -> None:
    """Put each fault beside the field or the file that it names."""
    roles = {each.role for each in CHECK_FILES}
    for fault in error.errors:
        line = f" (line {fault.line})" if fault.line else ""
        if fault.field in roles:
            files.faults[fault.field or ""] = f"{fault.detail}{line}"
        else:
            name = "load_ohm" if fault.field == "check_load_ohm" else fault.field
            form.add_error(name if name in form.fields else None, fault.detail)


def _render_checks(
    request: HttpRequest, row: AnalyserRow, form: CheckForm, files: ReceivedFiles, status: int = 200
) -> HttpResponse:
    context = {
        "analyser": row,
        "form": form,
        "slots": files.slots(CHECK_FILES),
        "faulty": files.faults,
    }
    return rendering.render_page(request, "analysers/checks.html", context, status=status)
