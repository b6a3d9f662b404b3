"""A guest who has an account now types the code from the card: the devices become the account's own."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.devices import presenters as devices_presenters
from measurements.pages.devices import report_contents, report_pdf
from measurements.pages.devices.forms import ClaimForm, DeviceForm, LoanForm, OfferForm
from measurements.pages.devices.presenters import is_own, present_state
from measurements.pages.layout import form_handling, rendering, wording
from measurements.pages.upkeep import trend_charts
from measurements.selectors.check_standards import check_standards
from measurements.selectors.designs import designs
from measurements.selectors.devices import accesses
from measurements.selectors.devices import devices as devices_selectors
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.kit import hands
from measurements.selectors.reference import reference
from measurements.selectors.tests import tests
from measurements.selectors.upkeep import photos, service_states
from measurements.services.devices import attendance
from measurements.services.devices import devices as devices_services
from measurements.services.nights import guests


def show_claim(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: where the code is typed. POST: claim the devices."""
    form = ClaimForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        try:
            moved = guests.claim_guest_devices(by=viewer, code=form.cleaned_data["code"])
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            words = f"{moved} devices are yours now." if moved != 1 else "One device is yours now."
            messages.success(request, words)
            return HttpResponseRedirect(reverse("pages:devices"))
    return rendering.render_page(
        request, "devices/claim.html", {"form": form}, status=422 if form.errors else 200
    )


# One device with its state and history, and changing it.

PAGE_SIZE = 50


def show_device(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a device: its state on top, change since commissioning, history, pictures, recipe."""
    device = devices_selectors.get_device(viewer, key)
    seen = accesses.list_accesses(viewer, key)
    state = service_states.get_service_state(viewer, key)
    page = tests.list_tests(viewer, device=key, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    context = {
        "device": device,
        "accesses": seen,
        "has_open_access": any(row.open for row in seen),
        "requests": accesses.list_requests(viewer, key),
        "state": present_state(state, own=is_own(viewer, device)),
        "change": state.change,
        **trend_charts.build_trend_context(viewer, key, state, request.GET.get("band", "")),
        "origin": wording.ORIGINS[device.origin],
        "owned": is_own(viewer, device),
        "offer": hands.get_open_offer(viewer, key),
        "past_loans": [row for row in hands.list_loans(viewer, key) if row.returned_on is not None],
        "loan_form": LoanForm(),
        "offer_form": OfferForm(),
        "recipe": devices_presenters.describe_build(viewer, device),
        "history": devices_presenters.build_history(
            viewer, device, state, page.results, first=not request.GET.get("cursor")
        ),
        "photos": photos.list_photos(viewer, key),
        "check_standard": check_standards.get_standard_of_device(viewer, key),
        "next_page": f"?cursor={page.next_cursor}" if page.next_cursor else "",
    }
    return rendering.render_page(request, "devices/device.html", context)


def submit_device_access(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """POST: the owner ends every night's access, or answers a request for the device."""
    if "end" in request.POST:
        attendance.end_access(by=viewer, device=key)
        messages.success(request, "Their access has ended. The label does not open it again for them.")
    else:
        yes = request.POST.get("answer") == "yes"
        attendance.answer_request(by=viewer, request=request.POST.get("request", ""), yes=yes)
        said = "They can test it now." if yes else "They cannot test it."
        messages.success(request, said)
    return HttpResponseRedirect(reverse("pages:device", kwargs={"key": key}))


def show_device_form(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the device as a form. POST: change it, unless somebody else did meanwhile."""
    device = devices_selectors.get_device(viewer, key)
    if request.method != "POST":
        return _render_device_form(
            request, device, DeviceForm(initial={**vars(device), "design": device.design or ""})
        )
    form = DeviceForm(request.POST)
    if form.is_valid():
        version = request.POST.get("version", "")
        typed = {**form.cleaned_data, "design": designs.find_design_key(form.cleaned_data["design"])}
        try:
            devices_services.update_device(
                by=viewer, device=key, version=int(version) if version.isdecimal() else 0, **typed
            )
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            messages.success(request, "The device is changed.")
            return HttpResponseRedirect(reverse("pages:device", kwargs={"key": key}))
    return _render_device_form(request, device, form, status=422)


def _render_device_form(
    request: HttpRequest, device: DeviceRow, form: DeviceForm, status: int = 200
) -> HttpResponse:
    return rendering.render_page(
        request, "devices/change.html", {"device": device, "form": form}, status=status
    )


# A device's full report, as a page that prints well and as PDF.


def show_report(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the report as a page."""
    return rendering.render_page(
        request, "devices/report.html", {"report": report_contents.build_report(viewer, key)}
    )


def download_report(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the report as PDF; the file's name says no more than the address did."""
    found = report_contents.build_report(viewer, key)
    content = report_pdf.draw_report_pdf(found, viewer, group_name=reference.get_group_name())
    response = HttpResponse(content, content_type="application/pdf")
    response["Content-Disposition"] = f'inline; filename="report-{key}.pdf"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
