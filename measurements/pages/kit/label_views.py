"""Labels of any devices, blank labels, and what a scanned label opens."""

from __future__ import annotations

import re
from collections.abc import Sequence
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import label_sheets
from measurements.charts.label_sheets import PrintedLabel
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.devices import card_presenters
from measurements.pages.kit.forms import BlankForm, LabelForm
from measurements.pages.layout import form_handling, rendering
from measurements.selectors.devices import devices, labels
from measurements.selectors.kit import tables
from measurements.selectors.nights import nights
from measurements.services.devices import label_codes

MOST_LABELS = 300


def show_label_form(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: choose devices and paper. The form leads to the PDF; blank labels have a form of their own."""
    chosen = set(_read_keys(request))
    kit = tables.list_kit(viewer, tables.KitFilter(text=request.GET.get("q", "")[:64].replace("\x00", "")))
    context = {
        "form": LabelForm(),
        "blank": BlankForm(auto_id="blank_%s"),
        "kit": kit,
        "chosen": chosen,
        "text": request.GET.get("q", "")[:64],
        "free": len(labels.list_free_codes(viewer)),
    }
    return rendering.render_page(request, "kit/labels.html", context)


def download_labels(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: labels of the devices in the address, or of the blank codes that wait (`free=yes`), as PDF."""
    if request.GET.get("free") == "yes":
        printed = [_make_blank_label(code) for code in labels.list_free_codes(viewer)]
    else:
        printed = _make_labels(viewer, _read_keys(request))
    if not printed:
        raise BenchnightError("label.nothing", "Choose at least one device.", field="device")
    return _reply_pdf(printed, LabelForm(request.GET))


def print_blank_labels(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """POST: make codes and answer with their labels as PDF."""
    form = BlankForm(request.POST, auto_id="blank_%s")
    if form.is_valid():
        try:
            codes = label_codes.make_blank_codes(by=viewer, count=form.cleaned_data["count"])
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            return _reply_pdf([_make_blank_label(code) for code in codes], form)
    context = {"form": LabelForm(), "blank": form, "kit": tables.list_kit(viewer, tables.KitFilter())}
    return rendering.render_page(request, "kit/labels.html", context, status=422)


def open_label(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what a label's code opens: the bench of the night that is on, else the device's page.

    A blank label asks for its device. The phone's own camera opens this address; no script is needed.
    """
    found = labels.find_label(viewer, key)
    night = _find_running_night(viewer)
    if found.state == "blank":
        return _show_blank_label(request, viewer, key, night)
    device = found.device or key
    if night is not None:
        bench = reverse("pages:night_bench", kwargs={"key": night})
        return HttpResponseRedirect(f"{bench}?{urlencode({'device': device})}")
    return HttpResponseRedirect(reverse("pages:device", kwargs={"key": device}))


def bind_label(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """POST: put a blank label on one of the viewer's devices."""
    device = request.POST.get("device", "")
    try:
        label_codes.bind_code(by=viewer, code=key, device=device)
    except BenchnightError as error:
        if error.kind not in ("conflict", "not_found"):
            raise
        messages.warning(request, error.detail if device else "Choose the device that the label is on.")
        return HttpResponseRedirect(reverse("pages:bench_of", kwargs={"key": key}))
    messages.success(request, "The label is on this device now.")
    return HttpResponseRedirect(reverse("pages:bench_of", kwargs={"key": key}))


def _show_blank_label(request: HttpRequest, viewer: Viewer, code: str, night: str | None) -> HttpResponse:
    context = {"code": code, "night": night, "devices": devices.list_own_devices(viewer)}
    return rendering.render_page(request, "kit/blank.html", context)


def _find_running_night(viewer: Viewer) -> str | None:
    if not viewer.is_operator:
        return None
    return next((row.key for row in nights.list_nights(viewer).results if row.closed_at is None), None)


def _make_labels(viewer: Viewer, keys: Sequence[str]) -> list[PrintedLabel]:
    rows = [devices.get_device_on_bench(viewer, key) for key in keys]
    return [
        PrintedLabel(
            card_presenters.get_bench_url(row.key), row.key, row.tag, row.design_title if row.design else ""
        )
        for row in rows
    ]


def _make_blank_label(code: str) -> PrintedLabel:
    return PrintedLabel(card_presenters.get_bench_url(code), code)


def _read_keys(request: HttpRequest) -> list[str]:
    given = dict.fromkeys(request.GET.getlist("device"))
    return [key for key in given if re.fullmatch("[a-z0-9]{12}", key)][:MOST_LABELS]


def _reply_pdf(printed: Sequence[PrintedLabel], form: LabelForm) -> HttpResponse:
    layout = form.layout if form.is_valid() else {"paper": "a4"}
    response = HttpResponse(label_sheets.draw_label_pdf(printed, **layout), content_type="application/pdf")
    response["Content-Disposition"] = 'inline; filename="labels.pdf"'
    response["X-Content-Type-Options"] = "nosniff"
    return response
