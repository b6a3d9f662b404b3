"""Club nights: the list, opening one, its page, and closing it."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import nights as bench_nights
from measurements.pages import cautions, door, faults, jig_words, night_words
from measurements.pages.forms.night import NightForm, OperatorForm, PersonForm
from measurements.queries import nights
from measurements.queries.rows_of_nights import NightRow

PAGE_SIZE = 50


def address(key: str, name: str = "night") -> str:
    """Address of a page of a night."""
    return reverse(f"pages:{name}", kwargs={"key": key})


def listing(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the nights that the viewer runs, the newest first."""
    page = nights.listing(viewer, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    context = {
        "nights": [(row, night_words.title(row)) for row in page.results],
        "next_page": f"?cursor={page.next_cursor}" if page.next_cursor else "",
    }
    return door.render(request, "nights.html", context)


def open_night(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the form of a new night. POST: open it."""
    if request.method != "POST":
        nights.listing(viewer, limit=1)  # says who may, before a form is filled in
        return _form_page(request, NightForm())
    form = NightForm(request.POST)
    if form.is_valid():
        try:
            stored = bench_nights.open_night(by=viewer, **form.fields_given())
        except BenchnightError as error:
            faults.show(form, error)
        else:
            messages.success(request, "The night is open. Sweep the jig first, then the devices.")
            return HttpResponseRedirect(address(stored.key))
    return _form_page(request, form, status=422)


def change(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the night as a form. POST: change it, unless somebody else did meanwhile."""
    night = nights.one(viewer, key)
    if request.method != "POST":
        said = {True: "true", False: "false", None: ""}[night.calibrated]
        return _form_page(request, NightForm(initial={**vars(night), "calibrated": said}), night=night)
    form = NightForm(request.POST)
    if form.is_valid():
        try:
            bench_nights.change(by=viewer, night=key, version=version(request), **form.fields_given())
        except BenchnightError as error:
            faults.show(form, error)
        else:
            messages.success(request, "The night is changed.")
            return HttpResponseRedirect(address(key))
    return _form_page(request, form, night=night, status=422)


def _form_page(
    request: HttpRequest, form: NightForm, *, night: NightRow | None = None, status: int = 200
) -> HttpResponse:
    return door.render(request, "night_form.html", {"form": form, "night": night}, status=status)


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the night: its jig, its people, its devices, how far it is."""
    return page(request, nights.one(viewer, key))


def page(request: HttpRequest, night: NightRow, *, status: int = 200, **forms: Any) -> HttpResponse:
    """The night's page, with forms of it as they were sent where they need mending."""
    lines = night_words.device_lines(night.devices)
    context = {
        "night": night,
        "title": night_words.title(night),
        "devices": lines,
        "waiting": [line for line in lines if not line.measured],
        "measured": night_words.measured_words(night.devices),
        "measured_count": sum(line.measured for line in lines),
        "jig_chart": reverse("pages:night_jig_chart", kwargs={"key": night.key, "form": "json"}),
        "jig_picture": reverse("pages:night_jig_chart", kwargs={"key": night.key, "form": "svg"}),
        "jig": jig_words.of_figures(night.jig_figures),
        "cautions": cautions.AT_NIGHT,
        "person_form": PersonForm(),
        "operator_form": OperatorForm(),
        **forms,
    }
    return door.render(request, "night.html", context, status=status)


def close(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what closing means. POST: close the night, or open it again."""
    night = nights.one(viewer, key)
    if request.method == "POST":
        act: Callable[..., int] = bench_nights.close if night.closed_at is None else bench_nights.reopen
        act(by=viewer, night=key, version=version(request))
        words = "The night is closed." if night.closed_at is None else "The night is open again."
        messages.success(request, words)
        return HttpResponseRedirect(address(key))
    context = {
        "night": night,
        "title": night_words.title(night),
        "waiting": [row for row in night.devices if not row.tests],
        "unfinished": [row for row in night.intakes if row.state != "done" or row.refused],
    }
    return door.render(request, "night_close.html", context)


def version(request: HttpRequest) -> int:
    """The version that a form was filled in on; 0, which is none, where it does not say."""
    typed = request.POST.get("version", "")
    return int(typed) if typed.isdecimal() else 0
