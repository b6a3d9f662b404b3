"""Who is at a night and what they brought: guests, members, operators, devices."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs.forms import RATIOS, get_recipe_field
from measurements.pages.designs.presenters import list_designs_by_title
from measurements.pages.layout import form_handling, rendering
from measurements.pages.nights import presenters
from measurements.pages.nights.forms import SOMEBODY_NEW, NightDeviceForm, OperatorForm, PersonForm
from measurements.pages.nights.views import get_night_url, render_night
from measurements.selectors.nights import nights as nights_selectors
from measurements.selectors.nights.rows import NightRow
from measurements.services.designs import designs
from measurements.services.devices import devices
from measurements.services.nights import guests, persons
from measurements.services.nights import nights as nights_services
from measurements.services.operations.audit import WriteResult

SAME_PERSON = {"yes": True, "no": False}
PREFILLED = ("tag", "contributor", "name", "origin", "design", "code")


def show_people(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """POST: put somebody on the night's list, or let another operator run it too."""
    if "operator" in request.POST:
        return _add_operator(request, viewer, key)
    if "confirm" in request.POST or "join" in request.POST:
        return _say_who_is_a_person(request, viewer, key)
    form = PersonForm(request.POST)
    if form.is_valid():
        try:
            welcomed = guests.add_attendee(
                by=viewer,
                night=key,
                name=form.cleaned_data["name"],
                same_person=SAME_PERSON.get(request.POST.get("same_person", "")),
            )
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error, {"contributor": "name"})
            form.asks_same_person = error.code == "guest.known_name"
        else:
            name = form.cleaned_data["name"]
            words = f"{name} is on the list." if welcomed.created else f"{name} was on the list already."
            messages.success(request, words)
            return HttpResponseRedirect(f"{get_night_url(key)}#people")
    return render_night(
        request, viewer, nights_selectors.get_night(viewer, key), status=422, person_form=form
    )


def _say_who_is_a_person(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """Return a steward confirms the guests who came, or says that two of the list are one person."""
    try:
        if "confirm" in request.POST:
            count = persons.confirm_guests(by=viewer, night=key, attendees=request.POST.getlist("attendee"))
            messages.success(request, f"{count} guest{'' if count == 1 else 's'} confirmed.")
        else:
            first, second = request.POST.get("first", ""), request.POST.get("second", "")
            persons.join_attendees(by=viewer, night=key, first=first, second=second)
            messages.success(request, "They count as one person from the next release on.")
    except BenchnightError as error:
        if error.kind == "forbidden":
            raise
        messages.warning(request, error.detail)
    return HttpResponseRedirect(f"{get_night_url(key)}#people")


def _add_operator(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    form = OperatorForm(request.POST)
    if form.is_valid():
        try:
            nights_services.add_night_operator(by=viewer, night=key, name=form.cleaned_data["operator"])
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error, {"name": "operator"})
        else:
            messages.success(request, f"{form.cleaned_data['operator']} runs this night too.")
            return HttpResponseRedirect(f"{get_night_url(key)}#people")
    return render_night(
        request, viewer, nights_selectors.get_night(viewer, key), status=422, operator_form=form
    )


def show_night_device_form(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the form of a device that was brought. POST: register it for whoever brought it."""
    if "use_design" in request.POST:  # one of the designs like the recipe that was being typed
        kept = {**request.POST.dict(), "design": request.POST["use_design"]}
        return _build_next_device_url(key, {name: kept[name] for name in PREFILLED if kept.get(name)})
    night = nights_selectors.get_night(viewer, key)
    offered = list_designs_by_title(viewer)
    if request.method != "POST":
        asked = {name: request.GET[name] for name in PREFILLED if name in request.GET}
        return _render_device_form(
            request, night, NightDeviceForm(night.contributors, offered, initial=asked)
        )
    form = NightDeviceForm(night.contributors, offered, data=request.POST)
    if form.is_valid():
        try:
            stored = _register_device(viewer, key, form)
        except BenchnightError as error:
            names = {fault.field: get_recipe_field(fault.field) for fault in error.errors if fault.field}
            if error.code == "guest.known_name":
                names["contributor"] = "same_person"
            form_handling.add_error_to_form(form, error, names)
        else:
            return _redirect_after_registration(request, key, stored, form)
    return _render_device_form(request, night, form, status=422)


def _register_device(viewer: Viewer, night: str, form: NightDeviceForm) -> WriteResult:
    """Return whoever is new, the design if it is, and the device: all or nothing."""
    typed = form.cleaned_data
    with transaction.atomic():
        person, design = typed["contributor"], typed["design"]
        if person == SOMEBODY_NEW:
            same = SAME_PERSON.get(typed["same_person"])
            person = guests.add_attendee(by=viewer, night=night, name=typed["name"], same_person=same).key
        if form.is_new_design:
            design = designs.register_design(by=viewer, recipe_given=form.recipe()).key
        return devices.register_device(
            by=viewer,
            design=design,
            tag=typed["tag"],
            origin=typed["origin"] or "homebrew",
            contributor=(night, person),
            code=typed["code"],
        )


def _redirect_after_registration(
    request: HttpRequest, key: str, stored: WriteResult, form: NightDeviceForm
) -> HttpResponse:
    tag = form.cleaned_data["tag"]
    messages.success(request, f"{tag} is registered.")
    if "another" in request.POST:
        return _build_next_device_url(
            key, {name: form.cleaned_data[name] for name in ("contributor", "design")}
        )
    return HttpResponseRedirect(f"{get_night_url(key, 'night_bench')}?device={stored.key}")


def _build_next_device_url(key: str, kept: dict[str, str]) -> HttpResponse:
    return HttpResponseRedirect(f"{get_night_url(key, 'night_device')}?{urlencode(kept)}")


def _render_device_form(
    request: HttpRequest, night: NightRow, form: NightDeviceForm, status: int = 200
) -> HttpResponse:
    context = {"night": night, "title": presenters.get_night_title(night), "form": form, "ratios": RATIOS}
    return rendering.render_page(request, "nights/device.html", context, status=status)
