"""A guest who has an account now types the code from the card: the devices become the account's own."""

from __future__ import annotations

import re
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.devices import presenters as devices_presenters
from measurements.pages.devices import report_contents, report_pdf
from measurements.pages.devices.forms import ClaimForm, DeviceForm, LoanForm, OfferForm
from measurements.pages.devices.presenters import is_own, present_state
from measurements.pages.layout import form_handling, rendering, upkeep_wording, wording
from measurements.pages.upkeep import trend_charts
from measurements.selectors.check_standards import check_standards
from measurements.selectors.designs import designs
from measurements.selectors.devices import accesses
from measurements.selectors.devices import devices as devices_selectors
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.kit import hands
from measurements.selectors.reference import reference
from measurements.selectors.tests import tests
from measurements.selectors.upkeep import due_devices, photos, service_states
from measurements.selectors.upkeep.due_devices import DueFilter
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


# Devices: the list by what is due, one device with its state and history, and changing it.

PAGE_SIZE = 50

MAX_SEARCH_CHARACTERS = 64


def show_device_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the devices that the viewer may see, the most urgent first; filters in the address."""
    wanted = _read_filters(request)
    found = due_devices.list_devices_by_urgency(viewer, wanted)
    page = _page_number(request)
    rows = found.rows[(page - 1) * PAGE_SIZE : page * PAGE_SIZE]
    context = {
        "devices": [(row, upkeep_wording.STATE_BADGES[row.state]) for row in rows],
        "wanted": wanted,
        "states": _list_state_links(request, found.counts, wanted),
        "meanings": upkeep_wording.STATE_BADGES.values(),
        "complete": found.complete,
        "most_judged": due_devices.MOST_JUDGED,
        "filtered": wanted != DueFilter(),
        "sees_others": viewer.is_steward,
        "marks_due": viewer.is_operator,
        "requests": accesses.list_requests(viewer),
        "offers": hands.list_offers(viewer),
        "on_bench": accesses.list_open_devices(viewer),
        "next_page": _replace_parameters(request, page=page + 1)
        if len(found.rows) > page * PAGE_SIZE
        else "",
    }
    return rendering.render_page(request, "devices/list.html", context)


def _page_number(request: HttpRequest) -> int:
    """Return pages are counted from 1; anything else is the first."""
    asked = request.GET.get("page", "")
    return max(1, int(asked)) if re.fullmatch("[0-9]{1,4}", asked) else 1


def _read_filters(request: HttpRequest) -> DueFilter:
    """Return the filters of the address; what is not one is passed over."""
    state = request.GET.get("state", "")
    return DueFilter(
        text=request.GET.get("q", "").replace("\x00", "").strip()[:MAX_SEARCH_CHARACTERS],
        state=state if state in (*upkeep_wording.STATE_BADGES, "due") else "",
        mine=request.GET.get("mine") == "yes",
        retired=request.GET.get("retired") == "yes",
    )


def _list_state_links(
    request: HttpRequest, counts: dict[str, int], wanted: DueFilter
) -> list[dict[str, object]]:
    """Return the states as links, each with how many devices are in it."""
    every = sum(counts.values())
    due = every - counts["serviceable"]
    rows = [("", "All", None, every), ("due", "To do", None, due)]
    rows += [(code, said.word, said, counts[code]) for code, said in upkeep_wording.STATE_BADGES.items()]
    return [
        {
            "href": _replace_parameters(request, state=code, page=""),
            "word": word,
            "said": said,
            "count": count,
            "current": wanted.state == code,
        }
        for code, word, said, count in rows
        if count or code == wanted.state or not code
    ]


def _replace_parameters(request: HttpRequest, **changes: object) -> str:
    """Return the address with some of its words changed; empty ones are left out."""
    known = {name: request.GET.get(name, "") for name in ("q", "state", "mine", "retired", "page")}
    query = urlencode({name: value for name, value in {**known, **changes}.items() if value})
    return f"?{query}" if query else "?"


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
