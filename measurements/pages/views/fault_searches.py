"""A fault search: begun with a symptom, then one step a page until there is a finding."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import fault_searches as register
from measurements.pages import cautions, door, fault_steps, faults, words_of_upkeep
from measurements.pages.forms.upkeep import StepForm, first_fault
from measurements.queries import devices, fault_searches, reference
from measurements.queries.fault_searches import FaultSearchRow


def begin(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what do you see, and the searches so far. POST: begin one."""
    device = devices.one(viewer, key)
    fault = ""
    symptom, band = request.POST.get("symptom", ""), request.POST.get("band", "")
    if request.method == "POST":
        try:
            stored = register.begin(by=viewer, device=key, symptom=symptom, band=band)
        except BenchnightError as error:
            fault = "Say what you see." if error.code == "fault.symptom" else first_fault(error)
        else:
            return HttpResponseRedirect(reverse("pages:fault_search", kwargs={"key": stored.key}))
    context = {
        "device": device,
        "fault": fault,
        "symptom": symptom,
        "band": band,
        "symptoms": [(code, *said) for code, said in words_of_upkeep.SYMPTOMS.items()],
        "bands": [row.band for row in reference.bands()],
        "searches": [
            (
                row,
                words_of_upkeep.SYMPTOMS[row.symptom][0],
                words_of_upkeep.FOUND[row.finding][0] if row.finding else "not ended yet",
            )
            for row in fault_searches.of_device(viewer, key)
        ],
        "cautions": cautions.AT_ANTENNA,
    }
    return door.render(request, "fault_begin.html", context, status=422 if fault else 200)


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the next step, or the finding. POST: a test, a test that is there, passing over, back, delete."""
    search = fault_searches.one(viewer, key)
    if request.method != "POST":
        return _page(request, viewer, search, fault_steps.form_of(search))
    form = fault_steps.form_of(search, request.POST)
    try:
        return _done(request, viewer, search, form)
    except BenchnightError as error:
        if error.kind == "not_found":
            raise
        on_fields = [fault for fault in error.errors if fault.field in form.fields]
        if on_fields:
            faults.show(form, error)
        return _page(request, viewer, search, form, fault="" if on_fields else fault_steps.said(error))


def _done(request: HttpRequest, viewer: Viewer, search: FaultSearchRow, form: StepForm) -> HttpResponse:
    step, do = request.POST.get("step", ""), request.POST.get("do", "")
    if do == "remove":
        device = register.remove(by=viewer, search=search.key)
        messages.success(request, "The search is deleted; its tests stay.")
        return HttpResponseRedirect(reverse("pages:device", kwargs={"key": device}))
    if do == "back":
        register.back(by=viewer, search=search.key)
    elif do == "skip":
        register.skip(by=viewer, search=search.key, step=step)
    elif do == "known":
        fault_steps.take_known(viewer, search, step, request.POST.get("known", ""))
    elif not form.is_valid():
        return _page(request, viewer, search, form, fault="Mend what is marked below.")
    else:
        test = fault_steps.record(viewer, search, form, request.FILES)
        register.answer_with_test(by=viewer, search=search.key, step=step, test=test)
    return HttpResponseRedirect(reverse("pages:fault_search", kwargs={"key": search.key}))


def _page(
    request: HttpRequest, viewer: Viewer, search: FaultSearchRow, form: StepForm, *, fault: str = ""
) -> HttpResponse:
    context: dict[str, Any] = {
        "search": search,
        "symptom": words_of_upkeep.SYMPTOMS[search.symptom][0],
        "path": [(code, words_of_upkeep.STEPS[code]) for code in search.path],
        "fault": fault,
        "form": form,
        "found": words_of_upkeep.FOUND.get(search.finding),
        "steps": [fault_steps.shown(step) for step in search.steps],
        **fault_steps.context(viewer, search),
    }
    return door.render(request, "fault_search.html", context, status=422 if fault or form.errors else 200)
