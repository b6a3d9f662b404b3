"""Choosing a device's commissioning test; and the chart of its change since."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import (
    cautions,
    chart_replies,
    form_handling,
    rendering,
    upkeep_wording,
    wording,
)
from measurements.pages.tests import presenters
from measurements.pages.upkeep import trend_charts
from measurements.pages.upkeep.forms import CaptionForm, InspectionForm, PhotoForm, get_first_fault
from measurements.selectors.devices import devices as devices_selectors
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.tests import tests
from measurements.selectors.tests.tests import TestRow
from measurements.selectors.upkeep import inspections as inspections_selectors
from measurements.selectors.upkeep import photos as photos_selectors
from measurements.selectors.upkeep import service_states
from measurements.services.devices import devices as devices_services
from measurements.services.upkeep import fault_searches, photo_redrawing
from measurements.services.upkeep import inspections as inspections_services
from measurements.services.upkeep import photos as photos_services

MAX_BASELINE_CHOICES = 200


def show_baseline_choice(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the tests that can be chosen. POST: choose one, or the first that counts."""
    device = devices_selectors.get_device(viewer, key)
    state = service_states.get_service_state(viewer, key)
    chosen = state.baseline.test if state.baseline is not None and state.baseline.chosen else ""
    fault = ""
    if request.method == "POST":
        chosen, version = request.POST.get("baseline", ""), request.POST.get("version", "")
        try:
            devices_services.update_device(
                by=viewer,
                device=key,
                version=int(version) if version.isdecimal() else 0,
                baseline=chosen or None,
            )
        except BenchnightError as error:
            if error.kind == "not_found":
                raise
            fault = get_first_fault(error)
        else:
            messages.success(request, "The commissioning test is chosen.")
            return HttpResponseRedirect(reverse("pages:device", kwargs={"key": key}))
    found = tests.list_tests(viewer, device=key, limit=MAX_BASELINE_CHOICES).results
    rows = sorted(filter(_can_be_baseline, found), key=lambda row: row.measured_on, reverse=True)
    context = {
        "device": device,
        "chosen": chosen,
        "fault": fault,
        "tests": [
            (
                row,
                wording.format_method(row.kind, row.method),
                presenters.summarise_verdicts(presenters.present_bands(row.result))[1],
            )
            for row in rows
            if row.kind != "in_situ"
        ],
    }
    return rendering.render_page(request, "upkeep/baseline.html", context, status=422 if fault else 200)


def _can_be_baseline(row: TestRow) -> bool:
    """Say whether anything can be held against it, as `services.devices.devices` decides it."""
    return not row.excluded_reason and not any(
        flag["severity"] == "exclude" and flag["band"] is None for flag in row.result["flags"]
    )


def draw_trend_chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the worst rejection of a band over time, as Vega-Lite JSON or SVG."""
    state = service_states.get_service_state(viewer, key)
    row = service_states.get_device_trend(viewer, key)
    first = trend_charts.choose_trend_band(row, state) if row.by_band else ""
    band = chart_replies.get_choice(request, "band", row.bands or ("",), first)
    return chart_replies.reply_chart(
        trend_charts.build_trend_spec(
            row,
            state,
            band,
            tone=chart_replies.get_tone(request),
            width_px=chart_replies.choose_width_px(request, form, False),
        ),
        form,
        own=True,
    )


# Inspecting a device, on a phone; and what an inspection found.


def show_inspection_form(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the check list. POST: record it; with `search`, as the step of that fault search."""
    device = devices_selectors.get_device(viewer, key)
    state = service_states.get_service_state(viewer, key)
    given = {
        "faulty": [item.item for item in state.items if item.state == "fault"],
        "asked": [item.item for item in state.items if item.asked],
    }
    if request.method != "POST":
        empty = InspectionForm(search=request.GET.get("search", ""), **given)
        return _render_inspection_form(request, device, empty)
    form = InspectionForm(request.POST, search=request.POST.get("search", ""), **given)
    if not form.is_valid():
        return _render_inspection_form(request, device, form, status=422)
    try:
        stored = inspections_services.record_inspection(
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
        form_handling.add_error_to_form(form, error, names)
        return _render_inspection_form(request, device, form, status=422)
    if form.search:
        fault_searches.answer_with_inspection(
            by=viewer, search=form.search, step="inspection", inspection=stored.key
        )
        return HttpResponseRedirect(reverse("pages:fault_search", kwargs={"key": form.search}))
    saved = "The inspection is saved." if stored.created else "This inspection is stored already."
    left = form.list_left_out()
    messages.success(request, f"{saved} Still asked for: {', '.join(left)}." if left else saved)
    return HttpResponseRedirect(reverse("pages:device", kwargs={"key": key}))


def _render_inspection_form(
    request: HttpRequest, device: DeviceRow, form: InspectionForm, status: int = 200
) -> HttpResponse:
    context = {"device": device, "form": form, "cautions": cautions.list_cautions("inspect")}
    return rendering.render_page(request, "upkeep/inspect.html", context, status=status)


def show_inspection(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what an inspection found. POST: delete it."""
    row = inspections_selectors.get_inspection(viewer, key)
    if request.method == "POST":
        device = inspections_services.withdraw_inspection(by=viewer, inspection=key)
        messages.success(request, "The inspection is deleted.")
        return HttpResponseRedirect(reverse("pages:device", kwargs={"key": device}))
    context = {
        "inspection": row,
        "device": devices_selectors.get_device(viewer, row.device),
        "findings": [(finding, upkeep_wording.INSPECTION_STATES[finding.state]) for finding in row.findings],
    }
    return rendering.render_page(request, "upkeep/inspection.html", context)


# Pictures of a device: adding, looking at, captioning, deleting, and their bytes.


def show_photo_form(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: choose a picture. POST: draw it anew and keep it."""
    device = devices_selectors.get_device(viewer, key)
    form = PhotoForm(request.POST, request.FILES) if request.method == "POST" else PhotoForm()
    if request.method == "POST" and form.is_valid():
        sent = form.cleaned_data["photo"]
        try:
            # one byte more than is allowed is enough to refuse it
            photos_services.add_photo(
                by=viewer,
                device=key,
                data=sent.read(photo_redrawing.MOST_BYTES + 1),
                caption=form.cleaned_data["caption"],
            )
        except BenchnightError as error:
            if error.kind == "not_found":
                raise
            form_handling.add_error_to_form(form, error)
        else:
            messages.success(request, "The picture is added, without anything but its pixels.")
            return HttpResponseRedirect(f"{reverse('pages:device', kwargs={'key': key})}#photos")
    status = 422 if form.errors else 200
    return rendering.render_page(
        request, "upkeep/photo_add.html", {"device": device, "form": form}, status=status
    )


def show_photo(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a picture. POST: another caption, or delete it."""
    photo = photos_selectors.get_photo(viewer, key)
    back = f"{reverse('pages:device', kwargs={'key': photo.device})}#photos"
    form = CaptionForm(request.POST or None, initial={"caption": photo.caption})
    if request.method == "POST" and request.POST.get("do") == "delete":
        photos_services.delete_photo(by=viewer, photo=key)
        messages.success(request, "The picture is deleted.")
        return HttpResponseRedirect(back)
    if request.method == "POST" and form.is_valid():
        try:
            photos_services.change_caption(by=viewer, photo=key, caption=form.cleaned_data["caption"])
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            return HttpResponseRedirect(back)
    context = {"photo": photo, "device": devices_selectors.get_device(viewer, photo.device), "form": form}
    return rendering.render_page(request, "upkeep/photo.html", context, status=422 if form.errors else 200)


def download_photo(_request: HttpRequest, viewer: Viewer, key: str, size: str) -> HttpResponse:
    """GET: the bytes of a picture. It was drawn here; still a browser may guess no other type of it."""
    data, media_type = photos_selectors.get_photo_content(viewer, key, size)  # type: ignore[arg-type]  # the address allows two
    response = HttpResponse(data, content_type=media_type)
    response["Content-Disposition"] = f'inline; filename="picture-{key}-{size}.jpg"'
    response["X-Content-Type-Options"] = "nosniff"
    response["Content-Security-Policy"] = "default-src 'none'; frame-ancestors 'none'; sandbox"
    response["Cross-Origin-Resource-Policy"] = "same-origin"
    return response
