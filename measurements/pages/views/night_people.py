"""Who is at a night and what they brought: guests, members, operators, devices."""

from __future__ import annotations

from urllib.parse import urlencode

from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import brought, guests
from measurements.ingest import designs as design_register
from measurements.ingest import devices as device_register
from measurements.ingest import nights as bench_nights
from measurements.ingest.stored import Stored
from measurements.pages import door, faults, night_words
from measurements.pages.design_choice import designs_by_title
from measurements.pages.forms.find import RATIOS
from measurements.pages.forms.night import OperatorForm, PersonForm
from measurements.pages.forms.night_device import SOMEBODY_NEW, NightDeviceForm
from measurements.pages.forms.recipe import field_of
from measurements.pages.views.nights import address, page
from measurements.queries import nights
from measurements.queries.rows_of_nights import NightRow

PREFILLED = ("tag", "contributor", "name", "origin", "design")


def people(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """POST: put somebody on the night's list, or let another operator run it too."""
    if "operator" in request.POST:
        return _operator(request, viewer, key)
    form = PersonForm(request.POST)
    if form.is_valid():
        try:
            welcomed = guests.welcome(by=viewer, night=key, name=form.cleaned_data["name"])
        except BenchnightError as error:
            faults.show(form, error, {"contributor": "name"})
        else:
            name = form.cleaned_data["name"]
            words = f"{name} is on the list." if welcomed.created else f"{name} was on the list already."
            messages.success(request, words)
            return HttpResponseRedirect(f"{address(key)}#people")
    return page(request, nights.one(viewer, key), status=422, person_form=form)


def _operator(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    form = OperatorForm(request.POST)
    if form.is_valid():
        try:
            bench_nights.add_operator(by=viewer, night=key, name=form.cleaned_data["operator"])
        except BenchnightError as error:
            faults.show(form, error, {"name": "operator"})
        else:
            messages.success(request, f"{form.cleaned_data['operator']} runs this night too.")
            return HttpResponseRedirect(f"{address(key)}#people")
    return page(request, nights.one(viewer, key), status=422, operator_form=form)


def device(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the form of a device that was brought. POST: register it for whoever brought it."""
    if "use_design" in request.POST:  # one of the designs like the recipe that was being typed
        kept = {**request.POST.dict(), "design": request.POST["use_design"]}
        return _again(key, {name: kept[name] for name in PREFILLED if kept.get(name)})
    night = nights.one(viewer, key)
    offered = designs_by_title(viewer)
    if request.method != "POST":
        asked = {name: request.GET[name] for name in PREFILLED if name in request.GET}
        return _form_page(request, night, NightDeviceForm(night.contributors, offered, initial=asked))
    form = NightDeviceForm(night.contributors, offered, data=request.POST)
    if form.is_valid():
        try:
            stored = _register(viewer, key, form)
        except BenchnightError as error:
            names = {fault.field: field_of(fault.field) for fault in error.errors if fault.field}
            faults.show(form, error, names)
        else:
            return _registered(request, key, stored, form)
    return _form_page(request, night, form, status=422)


def _register(viewer: Viewer, night: str, form: NightDeviceForm) -> Stored:
    """Whoever is new, the design if it is, and the device: all or nothing.

    A device that its owner registered before is put on the night's list as it is (`created` False).
    """
    typed = form.cleaned_data
    with transaction.atomic():
        person, design = typed["contributor"], typed["design"]
        if person == SOMEBODY_NEW:
            person = guests.welcome(by=viewer, night=night, name=typed["name"]).key
        try:
            with transaction.atomic():
                if form.is_new_design:
                    design = design_register.register(by=viewer, recipe_given=form.recipe()).key
                return device_register.register(
                    by=viewer,
                    design=design,
                    tag=typed["tag"],
                    origin=typed["origin"] or "homebrew",
                    contributor=(night, person),
                )
        except BenchnightError as error:
            if error.code != "device.tag_taken":
                raise
            there = brought.bring(by=viewer, night=night, contributor=person, tag=typed["tag"])
            return Stored(there.key, created=False)


def _registered(request: HttpRequest, key: str, stored: Stored, form: NightDeviceForm) -> HttpResponse:
    tag = form.cleaned_data["tag"]
    before = f"{tag} was registered before, with its own design: it is on the night's list."
    messages.success(request, f"{tag} is registered." if stored.created else before)
    if "another" in request.POST:
        return _again(key, {name: form.cleaned_data[name] for name in ("contributor", "design")})
    return HttpResponseRedirect(f"{address(key, 'night_bench')}?device={stored.key}")


def _again(key: str, kept: dict[str, str]) -> HttpResponse:
    return HttpResponseRedirect(f"{address(key, 'night_device')}?{urlencode(kept)}")


def _form_page(
    request: HttpRequest, night: NightRow, form: NightDeviceForm, status: int = 200
) -> HttpResponse:
    context = {"night": night, "title": night_words.title(night), "form": form, "ratios": RATIOS}
    return door.render(request, "night_device.html", context, status=status)
