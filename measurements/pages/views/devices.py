"""Own devices and their tests."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import devices as register
from measurements.pages import door, faults, metrics, recipe_words, words
from measurements.pages.forms.device import DeviceForm
from measurements.queries import designs, devices, tests
from measurements.queries.rows import DeviceRow, TestRow

PAGE_SIZE = 50


def listing(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the viewer's devices, the newest first."""
    page = devices.listing(viewer, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    context = {
        "devices": page.results,
        "next_page": f"?cursor={page.next_cursor}" if page.next_cursor else "",
    }
    return door.render(request, "devices.html", context)


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a device, its recipe and its tests."""
    device = devices.one(viewer, key)
    design = designs.one(viewer, device.design)
    page = tests.listing(viewer, device=key, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    context = {
        "device": device,
        "origin": words.ORIGINS[device.origin],
        "recipe": recipe_words.lines(design.recipe),
        "tests": [(test, words.method(test.kind, test.method), _outcome(test)) for test in page.results],
        "next_page": f"?cursor={page.next_cursor}" if page.next_cursor else "",
    }
    return door.render(request, "device.html", context)


def _outcome(test: TestRow) -> str:
    """The verdict of a test in a few words."""
    return metrics.overall(metrics.band_lines(test.result))[1].lower()


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
