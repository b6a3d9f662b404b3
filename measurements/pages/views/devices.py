"""Devices: the list by what is due, one device with its state and history, and changing it."""

from __future__ import annotations

import re
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import devices as register
from measurements.pages import door, faults, history, recipe_words, trends, words, words_of_upkeep
from measurements.pages.forms.device import DeviceForm
from measurements.pages.shown_state import shown_state
from measurements.queries import designs, devices, photos, service, service_list, tests
from measurements.queries.rows import DeviceRow
from measurements.queries.service_list import Wanted

PAGE_SIZE = 50
MOST_WORDS = 64


def listing(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the devices that the viewer may see, the most urgent first; filters in the address."""
    wanted = _wanted(request)
    found = service_list.listing(viewer, wanted)
    page = _page_number(request)
    rows = found.rows[(page - 1) * PAGE_SIZE : page * PAGE_SIZE]
    context = {
        "devices": [(row, words_of_upkeep.STATES[row.state]) for row in rows],
        "wanted": wanted,
        "states": _states(request, found.counts, wanted),
        "meanings": words_of_upkeep.STATES.values(),
        "complete": found.complete,
        "most_judged": service_list.MOST_JUDGED,
        "filtered": wanted != Wanted(),
        "sees_others": viewer.is_operator,
        "next_page": _with(request, page=page + 1) if len(found.rows) > page * PAGE_SIZE else "",
    }
    return door.render(request, "devices.html", context)


def _page_number(request: HttpRequest) -> int:
    """Pages are counted from 1; anything else is the first."""
    asked = request.GET.get("page", "")
    return max(1, int(asked)) if re.fullmatch("[0-9]{1,4}", asked) else 1


def _wanted(request: HttpRequest) -> Wanted:
    """The filters of the address; what is not one is passed over."""
    state = request.GET.get("state", "")
    return Wanted(
        text=request.GET.get("q", "").replace("\x00", "").strip()[:MOST_WORDS],
        state=state if state in (*words_of_upkeep.STATES, "due") else "",
        mine=request.GET.get("mine") == "yes",
        retired=request.GET.get("retired") == "yes",
    )


def _states(request: HttpRequest, counts: dict[str, int], wanted: Wanted) -> list[dict[str, object]]:
    """The states as links, each with how many devices are in it."""
    every = sum(counts.values())
    due = every - counts["serviceable"]
    rows = [("", "All", None, every), ("due", "To do", None, due)]
    rows += [(code, said.word, said, counts[code]) for code, said in words_of_upkeep.STATES.items()]
    return [
        {
            "href": _with(request, state=code, page=""),
            "word": word,
            "said": said,
            "count": count,
            "current": wanted.state == code,
        }
        for code, word, said, count in rows
        if count or code == wanted.state or not code
    ]


def _with(request: HttpRequest, **changes: object) -> str:
    """The address with some of its words changed; empty ones are left out."""
    known = {name: request.GET.get(name, "") for name in ("q", "state", "mine", "retired", "page")}
    query = urlencode({name: value for name, value in {**known, **changes}.items() if value})
    return f"?{query}" if query else "?"


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a device: its state on top, change since commissioning, history, pictures, recipe."""
    device = devices.one(viewer, key)
    state = service.state_of(viewer, key)
    design = designs.one(viewer, device.design)
    page = tests.listing(viewer, device=key, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    context = {
        "device": device,
        "state": shown_state(state, own=device.owner == viewer.name),
        "change": state.change,
        **trends.context(viewer, key, state, request.GET.get("band", "")),
        "origin": words.ORIGINS[device.origin],
        "recipe": recipe_words.lines(design.recipe),
        "history": history.of_device(
            viewer, device, state, page.results, first=not request.GET.get("cursor")
        ),
        "photos": photos.of_device(viewer, key),
        "next_page": f"?cursor={page.next_cursor}" if page.next_cursor else "",
    }
    return door.render(request, "device.html", context)


def change(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the device as a form. POST: change it, unless somebody else did meanwhile."""
    device = devices.one(viewer, key)
    if request.method != "POST":
        return _change_page(request, device, DeviceForm(initial=vars(device)))
    form = DeviceForm(request.POST)
    if form.is_valid():
        version = request.POST.get("version", "")
        try:
            register.change(
                by=viewer, device=key, version=int(version) if version.isdecimal() else 0, **form.cleaned_data
            )
        except BenchnightError as error:
            faults.show(form, error)
        else:
            messages.success(request, "The device is changed.")
            return HttpResponseRedirect(reverse("pages:device", kwargs={"key": key}))
    return _change_page(request, device, form, status=422)


def _change_page(
    request: HttpRequest, device: DeviceRow, form: DeviceForm, status: int = 200
) -> HttpResponse:
    return door.render(request, "device_change.html", {"device": device, "form": form}, status=status)
