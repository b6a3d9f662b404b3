"""On the bench: one device at a time. Its tag, the test, the file; then the verdict, and the next one."""

from __future__ import annotations

import re
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.template.loader import render_to_string
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import staging, tests
from measurements.ingest.stored import Stored
from measurements.ingest.uploads import Upload, parse_settings
from measurements.pages import bench_memory, cautions, door, faults, metrics, night_words, words
from measurements.pages.bench import BY_KEY, PROCEDURES, Procedure
from measurements.pages.forms.bench_test import OFFERED, BenchTestForm
from measurements.pages.received_files import Received, received
from measurements.pages.views.nights import address
from measurements.queries import nights
from measurements.queries import tests as test_rows
from measurements.queries.rows_of_nights import NightDeviceRow, NightRow

SCANNED = re.compile(r"/(?:bench|devices)/([a-z0-9]{12})/?$")
KEY = re.compile(r"[a-z0-9]{12}")


def bench(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: which device, then its form and how it did. POST: store a test of it."""
    night = nights.one(viewer, key)
    if request.method == "POST":
        return _received(request, viewer, night)
    if request.GET.get("device"):
        device = _device(night, request.GET["device"])
        if device is None:
            return _which(request, night, unknown="That device")
        procedure = _procedure(request, request.GET.get("test", ""))
        form = BenchTestForm(procedure, initial=bench_memory.typed(request, night.key))
        return _device_page(request, viewer, night, device, form)
    if request.GET.get("tag", "").strip():
        return _looked_up(request, night, " ".join(request.GET["tag"].split()))
    return _which(request, night)


def of_label(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what a label's code opens: the bench of the night that is on, else the device's page."""
    if viewer.is_operator:
        running = (row for row in nights.listing(viewer).results if row.closed_at is None)
        night = next(running, None)
        if night is not None:
            return HttpResponseRedirect(f"{address(night.key, 'night_bench')}?{urlencode({'device': key})}")
    return HttpResponseRedirect(reverse("pages:device", kwargs={"key": key}))


def _looked_up(request: HttpRequest, night: NightRow, typed: str) -> HttpResponse:
    """A tag as it was typed, or what a scanner typed for it."""
    scanned = SCANNED.search(typed)
    wanted = scanned.group(1) if scanned else typed
    found = [row for row in night.devices if row.tag.casefold() == wanted.casefold()]
    if not found and KEY.fullmatch(wanted):
        found = [row for row in night.devices if row.key == wanted]
    if len(found) == 1:
        where = f"{address(night.key, 'night_bench')}?{urlencode({'device': found[0].key})}"
        return HttpResponseRedirect(where)
    return _which(request, night, alike=found, unknown="" if found else wanted, tag=typed)


def _which(request: HttpRequest, night: NightRow, **found: Any) -> HttpResponse:
    """Which device: a tag to type or scan, and those that wait."""
    lines = night_words.device_lines(night.devices)
    context = {
        "night": night,
        "title": night_words.title(night),
        "waiting": [line for line in lines if not line.measured],
        "measured": night_words.measured_words(night.devices),
        "cautions": cautions.AT_NIGHT,
        **found,
    }
    return door.render(request, "bench.html", context, status=404 if found.get("unknown") else 200)


def _device_page(
    request: HttpRequest,
    viewer: Viewer,
    night: NightRow,
    device: NightDeviceRow,
    form: BenchTestForm,
    *,
    status: int = 200,
) -> HttpResponse:
    stored = request.GET.get("stored", "")
    context = {
        "night": night,
        "title": night_words.title(night),
        "device": device,
        "line": night_words.device_lines((device,))[0],
        "form": form,
        "procedure": form.procedure,
        "procedures": _offered(device, form.procedure),
        "cautions": cautions.for_kind(form.procedure.kind),
        "jig_missing": form.procedure.kind == "common_mode" and not night.jig_files,
        **(_outcome(viewer, night, device, stored, new="again" not in request.GET) if stored else {}),
    }
    return door.render(request, "bench_device.html", context, status=status)


def _received(request: HttpRequest, viewer: Viewer, night: NightRow) -> HttpResponse:
    device = _device(night, request.POST.get("device", ""))
    if device is None:
        raise BenchnightError(
            "device.not_found",
            "That device is not on this night's list (any more). Choose it again from the bench.",
            kind="not_found",
        )
    procedure = _procedure(request, request.POST.get("test", ""))
    files = received(request, viewer, procedure.main_files)
    form = BenchTestForm(procedure, data=request.POST, held=files.held)
    stored = _stored(viewer, night, device, form, files)
    if stored is None:
        if _asks_for_json(request):
            return JsonResponse({"faults": form.fault_list()}, status=422)
        return _device_page(request, viewer, night, device, form, status=422)
    staging.drop(by=viewer, keys=[each.key for each in files.held.values()])
    bench_memory.remember(request, night.key, procedure.key, form.data)
    where = {"device": device.key, "test": procedure.key, "stored": stored.key}
    if not stored.created:
        where["again"] = "yes"
    page = f"{address(night.key, 'night_bench')}?{urlencode(where)}"
    if not _asks_for_json(request):
        return HttpResponseRedirect(page)
    context = {
        "night": night,
        "device": device,
        **_outcome(viewer, night, device, stored.key, new=stored.created),
    }
    return JsonResponse({"address": page, "html": render_to_string("parts/bench_outcome.html", context)})


def _stored(
    viewer: Viewer, night: NightRow, device: NightDeviceRow, form: BenchTestForm, files: Received
) -> Stored | None:
    """The test, or None with the faults shown in the form."""
    form.is_valid()
    for role, fault in files.faults.items():
        form.add_error(role if role in form.fields else None, fault)
    if form.errors:
        return None
    try:
        return tests.record(
            by=viewer,
            device=device.key,
            uploads={role: Upload(held.name, held.data) for role, held in files.held.items()},
            settings=parse_settings(form.setting_texts(device.ratio)),
            measured_on=night.held_on,
            night=night.key,
        )
    except BenchnightError as error:
        faults.show(form, error)
        return None


def _outcome(
    viewer: Viewer, night: NightRow, device: NightDeviceRow, key: str, *, new: bool
) -> dict[str, Any]:
    """The verdict of a test that was just stored, band by band, and how far the night is now."""
    test = test_rows.one(viewer, key)
    lines = metrics.band_lines(test.result)
    said, outcome = metrics.overall(lines)
    waiting = [row for row in night.devices if not row.tests and row.key != device.key]
    return {
        "stored": test,
        "is_new": new,
        "said": said,
        "outcome": outcome,
        "lines": lines,
        "limit": metrics.limit_words(test.result),
        "kind_words": words.method(test.kind, test.method),
        "finding": words.FINDINGS.get(str(test.result["summary"].get("finding")), ""),
        "flags": [flag for flag in test.result["flags"] if flag["severity"] != "note"],
        "notes": [flag for flag in test.result["flags"] if flag["severity"] == "note"],
        "waiting": waiting,
        "measured": f"{len(night.devices) - len(waiting)} of {len(night.devices)} measured",
    }


def _device(night: NightRow, key: str) -> NightDeviceRow | None:
    return next((row for row in night.devices if row.key == key), None)


def _procedure(request: HttpRequest, asked: str) -> Procedure:
    """The test that was asked for, else the last one made on this bench, else the first of the table."""
    chosen = BY_KEY.get(asked) or BY_KEY.get(bench_memory.last_test(request))
    return chosen if chosen in OFFERED else PROCEDURES[0]


def _offered(device: NightDeviceRow, chosen: Procedure) -> list[tuple[Procedure, str, bool]]:
    """Every test that the bench offers, with its words and whether it is the chosen one.

    Straight through judges 1:1 devices only, and the series resistor all others.
    """
    unfit = "insertion_loss.direct" if device.ratio != "1:1" else "insertion_loss.series_resistor"
    return [
        (each, words.method(each.kind, each.method), each is chosen)
        for each in OFFERED
        if each.key != unfit or each is chosen
    ]


def _asks_for_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept") == "application/json"
