"""Inspecting a device, on a phone; and what an inspection found."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import fault_searches
from measurements.ingest import inspections as register
from measurements.pages import cautions, door, faults, words_of_upkeep
from measurements.pages.forms.upkeep import InspectionForm
from measurements.queries import devices, inspections
from measurements.queries.rows import DeviceRow


def inspect(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the check list. POST: record it; with `search`, as the step of that fault search."""
    device = devices.one(viewer, key)
    if request.method != "POST":
        return _page(request, device, InspectionForm(search=request.GET.get("search", "")))
    form = InspectionForm(request.POST, search=request.POST.get("search", ""))
    if not form.is_valid():
        return _page(request, device, form, status=422)
    try:
        stored = register.record(
            by=viewer,
            device=key,
            inspected_on=form.cleaned_data["inspected_on"],
            findings=form.findings(),
            dc_ohm=form.cleaned_data["dc_ohm"],
            notes=form.cleaned_data["notes"],
        )
    except BenchnightError as error:
        if error.kind == "not_found":
            raise
        names = {fault.field: fault.field.removeprefix("findings.") for fault in error.errors if fault.field}
        faults.show(form, error, names)
        return _page(request, device, form, status=422)
    if form.search:
        fault_searches.answer_with_inspection(
            by=viewer, search=form.search, step="inspection", inspection=stored.key
        )
        return HttpResponseRedirect(reverse("pages:fault_search", kwargs={"key": form.search}))
    messages.success(
        request, "The inspection is saved." if stored.created else "This inspection is stored already."
    )
    return HttpResponseRedirect(reverse("pages:device", kwargs={"key": key}))


def _page(request: HttpRequest, device: DeviceRow, form: InspectionForm, status: int = 200) -> HttpResponse:
    context = {"device": device, "form": form, "cautions": cautions.AT_DEVICE}
    return door.render(request, "inspect.html", context, status=status)


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what an inspection found. POST: delete it."""
    row = inspections.one(viewer, key)
    if request.method == "POST":
        device = register.withdraw(by=viewer, inspection=key)
        messages.success(request, "The inspection is deleted.")
        return HttpResponseRedirect(reverse("pages:device", kwargs={"key": device}))
    context = {
        "inspection": row,
        "device": devices.one(viewer, row.device),
        "findings": [(finding, words_of_upkeep.LOOKS[finding.state]) for finding in row.findings],
    }
    return door.render(request, "inspection.html", context)
