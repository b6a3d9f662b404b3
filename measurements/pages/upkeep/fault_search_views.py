"""A step of a fault search on its page: what it asks for, how it is wired, what came of those before it."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.fitness.fault_search import CHOICES, STEP_KINDS, Conclusion
from measurements.pages.guide import contents
from measurements.pages.layout import cautions, fault_wording, form_handling, procedures, rendering, wording
from measurements.pages.layout.wording import Badge
from measurements.pages.upkeep.forms import StepForm, get_first_fault
from measurements.selectors.designs import designs
from measurements.selectors.devices import devices
from measurements.selectors.reference import reference
from measurements.selectors.tests import tests as tests_selectors
from measurements.selectors.upkeep import fault_searches as fault_searches_selectors
from measurements.selectors.upkeep import inspections
from measurements.selectors.upkeep.fault_searches import FaultSearchRow, FaultStepRow
from measurements.services.tests import tests as tests_services
from measurements.services.upkeep import fault_searches as fault_searches_services
from measurements.services.uploads.uploads import Upload, parse_settings

MAX_FILE_BYTES = 8 * 1024 * 1024

MAX_EXISTING = 20


def get_step_kind(search: FaultSearchRow) -> str | None:
    """Return the kind of test that the next step makes; None for an inspection and at the end."""
    return STEP_KINDS.get(search.next_step)


def build_step_form(search: FaultSearchRow, data: Any = None) -> StepForm:
    """Return the form of the next step."""
    kind = get_step_kind(search)
    return StepForm(
        data,
        with_load=kind == "load_match",
        with_dc=kind == "dc",
        bands=search.band if kind == "in_situ" else None,
    )


def build_step_context(viewer: Viewer, search: FaultSearchRow) -> dict[str, Any]:
    """Return files, drawings, cautions, and tests that are there already."""
    kind = get_step_kind(search)
    known = _list_existing_results(viewer, search, kind)
    if kind is None:
        return {
            "title": fault_wording.SEARCH_STEPS.get(search.next_step, ""),
            "cautions": cautions.list_cautions(get_caution_step(search)),
            "known": known,
            "tasks": fault_wording.STEP_TASKS.get(search.next_step, ()),
            "choices": fault_wording.STEP_CHOICES.get(search.next_step, {}).items(),
        }
    procedure = procedures.PROCEDURES_BY_KEY[kind]
    files = [each for each in procedure.main_files if each.role != "sweep_reversed"]
    return {
        "title": fault_wording.SEARCH_STEPS[search.next_step],
        "files": files,
        "pictures": [
            contents.build_picture(kind, None, role)
            for role in (
                contents.find_section(kind, None).drawn if kind == "dc" else [each.role for each in files]
            )
        ],
        "guide": contents.get_section_url(kind, None),
        "cautions": cautions.list_cautions(get_caution_step(search)),
        "known": known,
    }


def get_caution_step(search: FaultSearchRow) -> str:
    """Get the row of the table of cautions that this page shows."""
    if search.next_step:
        return f"search.{search.next_step}"
    return "search.danger" if search.finding == "stay_away" else "search.end"


def record_step_test(viewer: Viewer, search: FaultSearchRow, form: StepForm, files: Mapping[str, Any]) -> str:
    """Store the step's test of the device and answer its key. Raises BenchnightError."""
    kind = get_step_kind(search)
    if kind is None:
        raise BenchnightError(
            "fault.other_step", "The search went on meanwhile. Open it again.", kind="conflict"
        )
    procedure = procedures.PROCEDURES_BY_KEY[kind]
    uploads = {
        each.role: Upload(files[each.role].name or "unnamed", files[each.role].read(MAX_FILE_BYTES + 1))
        for each in procedure.main_files
        if files.get(each.role)
    }
    missing = [each.label for each in procedure.main_files if each.required and each.role not in uploads]
    if missing:
        raise BenchnightError("fault.files", f"Choose the file: {', '.join(missing)}.")
    ratio = designs.get_design(viewer, devices.get_device(viewer, search.device).design).ratio
    given = form.cleaned_data
    texts = {"kind": kind, "ratio": ratio, "calibrated": given.get("calibrated", "")}
    if given.get("antenna_bands"):
        texts["antenna_bands"] = given["antenna_bands"]
    if given.get("dc_readings"):
        texts["dc_readings"] = given["dc_readings"]
    if given.get("load_ohm"):
        texts["load_ohm"] = given["load_ohm"].replace(",", ".")
    return tests_services.record_test(
        by=viewer,
        device=search.device,
        uploads=uploads,
        settings=parse_settings(texts),
        measured_on=given["measured_on"],
    ).key


def take_existing_result(viewer: Viewer, search: FaultSearchRow, step: str, key: str) -> None:
    """Take a test or an inspection that is there already. Raises BenchnightError."""
    if step == "inspection":
        fault_searches_services.answer_with_inspection(
            by=viewer, search=search.key, step=step, inspection=key
        )
    else:
        fault_searches_services.answer_with_test(by=viewer, search=search.key, step=step, test=key)


def format_file_faults(error: BenchnightError) -> str:
    """Explain the error of a file in the words of the form, with its line."""
    found = []
    for fault in error.errors:
        line = f" (line {fault.line})" if fault.line else ""
        found.append(procedures.translate_roles(f"{fault.detail}{line}"))
    return " ".join(found)


def present_step(step: FaultStepRow) -> tuple[FaultStepRow, str, Badge, str]:
    """Return a finished step: itself, its name, its outcome, its address."""
    href = ""
    if step.test:
        href = reverse("pages:test", kwargs={"key": step.test})
    elif step.inspection:
        href = reverse("pages:inspection", kwargs={"key": step.inspection})
    return step, fault_wording.SEARCH_STEPS[step.step], fault_wording.STEP_OUTCOMES[step.outcome], href


def present_conclusion(conclusion: Conclusion) -> tuple[str, str, list[str]]:
    """Return present a conclusion: its heading, its sentence, and each finding that it rests on."""
    heading, words = fault_wording.SEARCH_FINDINGS[conclusion.code]
    rests = [
        f"{fault_wording.SEARCH_STEPS[step]}: {fault_wording.STEP_OUTCOMES[outcome].word}"
        for step, outcome in conclusion.premises
    ]
    return heading, words, rests


def _list_existing_results(viewer: Viewer, search: FaultSearchRow, kind: str | None) -> list[tuple[str, str]]:
    if not search.next_step:
        return []
    if search.next_step in CHOICES:
        return []
    if kind is None:
        rows = inspections.list_inspections(viewer, search.device, limit=MAX_EXISTING).results
        return [(row.key, f"Inspection of {row.inspected_on:%d %b %Y}") for row in rows]
    found = tests_selectors.list_tests(viewer, device=search.device, limit=100).results
    alike = [row for row in found if row.kind == kind][:MAX_EXISTING]
    return [(row.key, f"{wording.KINDS[kind]}, {row.measured_on:%d %b %Y}") for row in alike]


# A fault search: begun with a symptom, then one step a page until there is a finding.


def show_fault_search_start(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what do you see, and the searches so far. POST: begin one."""
    device = devices.get_device(viewer, key)
    fault = ""
    symptom, band = request.POST.get("symptom", ""), request.POST.get("band", "")
    if request.method == "POST":
        try:
            stored = fault_searches_services.begin_fault_search(
                by=viewer, device=key, symptom=symptom, band=band
            )
        except BenchnightError as error:
            fault = "Say what you see." if error.code == "fault.symptom" else get_first_fault(error)
        else:
            return HttpResponseRedirect(reverse("pages:fault_search", kwargs={"key": stored.key}))
    context = {
        "device": device,
        "fault": fault,
        "symptom": symptom,
        "band": band,
        "symptoms": [(code, *said) for code, said in fault_wording.SYMPTOMS.items()],
        "bands": [row.band for row in reference.list_bands()],
        "searches": [
            (
                row,
                fault_wording.SYMPTOMS[row.symptom][0],
                fault_wording.get_search_finding(row.finding)[0] if row.finding else "not ended yet",
            )
            for row in fault_searches_selectors.list_fault_searches(viewer, key)
        ],
        "cautions": cautions.list_cautions("search.begin"),
    }
    return rendering.render_page(request, "upkeep/fault_begin.html", context, status=422 if fault else 200)


def show_fault_search(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the next step, or the finding. POST: a test, a test that is there, passing over, back, delete."""
    search = fault_searches_selectors.get_fault_search(viewer, key)
    if request.method != "POST":
        return _render_fault_search(request, viewer, search, build_step_form(search))
    form = build_step_form(search, request.POST)
    try:
        return _apply_step(request, viewer, search, form)
    except BenchnightError as error:
        if error.kind == "not_found":
            raise
        on_fields = [fault for fault in error.errors if fault.field in form.fields]
        if on_fields:
            form_handling.add_error_to_form(form, error)
        return _render_fault_search(
            request, viewer, search, form, fault="" if on_fields else format_file_faults(error)
        )


def _apply_step(request: HttpRequest, viewer: Viewer, search: FaultSearchRow, form: StepForm) -> HttpResponse:
    step, do = request.POST.get("step", ""), request.POST.get("do", "")
    if do == "remove":
        device = fault_searches_services.delete_fault_search(by=viewer, search=search.key)
        messages.success(request, "The search is deleted; its tests stay.")
        return HttpResponseRedirect(reverse("pages:device", kwargs={"key": device}))
    if do == "back":
        fault_searches_services.undo_last_answer(by=viewer, search=search.key)
    elif do == "skip":
        fault_searches_services.skip_step(by=viewer, search=search.key, step=step)
    elif do == "choose":
        fault_searches_services.answer_with_choice(
            by=viewer, search=search.key, step=step, choice=request.POST.get("choice", "")
        )
    elif do == "known":
        take_existing_result(viewer, search, step, request.POST.get("known", ""))
    elif not form.is_valid():
        return _render_fault_search(request, viewer, search, form, fault="Mend what is marked below.")
    else:
        test = record_step_test(viewer, search, form, request.FILES)
        fault_searches_services.answer_with_test(by=viewer, search=search.key, step=step, test=test)
    return HttpResponseRedirect(reverse("pages:fault_search", kwargs={"key": search.key}))


def _render_fault_search(
    request: HttpRequest, viewer: Viewer, search: FaultSearchRow, form: StepForm, *, fault: str = ""
) -> HttpResponse:
    context: dict[str, Any] = {
        "search": search,
        "symptom": fault_wording.SYMPTOMS[search.symptom][0],
        "path": [(code, fault_wording.SEARCH_STEPS[code]) for code in search.path],
        "fault": fault,
        "form": form,
        "found": [present_conclusion(each) for each in search.conclusions],
        "missing": [fault_wording.SEARCH_STEPS[step] for step in search.missing],
        "steps": [present_step(step) for step in search.steps],
        **build_step_context(viewer, search),
    }
    return rendering.render_page(
        request, "upkeep/fault_search.html", context, status=422 if fault or form.errors else 200
    )
