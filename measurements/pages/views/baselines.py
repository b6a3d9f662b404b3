"""Choosing a device's commissioning test; and the chart of its change since."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import devices as register
from measurements.pages import door, metrics, trends, words
from measurements.pages.forms.upkeep import first_fault
from measurements.pages.views import pictures
from measurements.queries import devices, service, tests, trend
from measurements.queries.rows import TestRow

MOST_TESTS = 200


def choose(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the tests that can be chosen. POST: choose one, or the first that counts."""
    device = devices.one(viewer, key)
    state = service.state_of(viewer, key)
    chosen = state.baseline.test if state.baseline is not None and state.baseline.chosen else ""
    fault = ""
    if request.method == "POST":
        chosen, version = request.POST.get("baseline", ""), request.POST.get("version", "")
        try:
            register.change(
                by=viewer,
                device=key,
                version=int(version) if version.isdecimal() else 0,
                baseline=chosen or None,
            )
        except BenchnightError as error:
            if error.kind == "not_found":
                raise
            fault = first_fault(error)
        else:
            messages.success(request, "The commissioning test is chosen.")
            return HttpResponseRedirect(reverse("pages:device", kwargs={"key": key}))
    found = tests.listing(viewer, device=key, limit=MOST_TESTS).results
    rows = sorted(filter(_counts, found), key=lambda row: row.measured_on, reverse=True)
    context = {
        "device": device,
        "chosen": chosen,
        "fault": fault,
        "tests": [
            (row, words.method(row.kind, row.method), metrics.overall(metrics.band_lines(row.result))[1])
            for row in rows
            if row.kind != "in_situ"
        ],
    }
    return door.render(request, "baseline.html", context, status=422 if fault else 200)


def _counts(row: TestRow) -> bool:
    """Whether anything can be held against it, as `ingest.baselines` decides it."""
    return not row.excluded_reason and not any(
        flag["severity"] == "exclude" and flag["band"] is None for flag in row.result["flags"]
    )


def chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the worst rejection of a band over time, as Vega-Lite JSON or SVG."""
    state = service.state_of(viewer, key)
    row = trend.of_device(viewer, key)
    first = trends.first_band(row, state) if row.by_band else ""
    band = pictures.chosen(request, "band", row.bands or ("",), first)
    return pictures.reply(
        trends.spec(row, state, band, tone=pictures.tone(request), width_px=pictures.width_px(form, False)),
        form,
        own=True,
    )
