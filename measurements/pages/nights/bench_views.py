"""What the bench view offers again for the next device: the last test and the resistors in use.

The same resistor lies on the bench all evening: the operator's session remembers it for the night.
"""

from __future__ import annotations

import re
from collections.abc import Mapping
from typing import Any
from urllib.parse import urlencode

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect, JsonResponse
from django.template.loader import render_to_string

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import cautions, form_handling, rendering, wording
from measurements.pages.layout.procedures import PROCEDURES, PROCEDURES_BY_KEY, SETTINGS, Procedure
from measurements.pages.nights import presenters as nights_presenters
from measurements.pages.nights.forms import BENCH_PROCEDURES, BenchTestForm
from measurements.pages.nights.views import get_night_url
from measurements.pages.tests import presenters as tests_presenters
from measurements.pages.uploads.staged_files import ReceivedFiles, receive_files
from measurements.selectors.devices import labels
from measurements.selectors.nights import nights
from measurements.selectors.nights.rows import NightDeviceRow, NightRow
from measurements.selectors.tests import tests as tests_selectors
from measurements.services.devices import attendance
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import tests as tests_services
from measurements.services.uploads import staging
from measurements.services.uploads.uploads import Upload, parse_settings

BENCH_SESSION_KEY = "bench"

REMEMBERED_NUMBERS = tuple(name for name, setting in SETTINGS.items() if setting.shape == "number")


def remember_bench_test(request: HttpRequest, night: str, test: str, typed: Mapping[str, Any]) -> None:
    """Keep the test's name and the numbers that were typed."""
    numbers = {
        **_get_session_numbers(request, night),
        **{name: typed[name] for name in REMEMBERED_NUMBERS if name in typed},
    }
    request.session[BENCH_SESSION_KEY] = {"night": night, "test": test, "typed": numbers}


def get_last_procedure(request: HttpRequest) -> str:
    """Return the procedure of the last test, empty before the first."""
    return str(request.session.get(BENCH_SESSION_KEY, {}).get("test", ""))


def get_last_numbers(request: HttpRequest, night: str) -> dict[str, str]:
    """Return the numbers of the last tests of this night."""
    return _get_session_numbers(request, night)


def _get_session_numbers(request: HttpRequest, night: str) -> dict[str, str]:
    kept = request.session.get(BENCH_SESSION_KEY, {})
    return dict(kept.get("typed", {})) if kept.get("night") == night else {}


# On the bench: one device at a time. Its tag, the test, the file; then the verdict, and the next one.

LABEL_ADDRESS = re.compile(r"/(?:bench|devices)/([a-z0-9]{12})/?$")

DEVICE_KEY = re.compile(r"[a-z0-9]{12}")


def show_bench(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: which device, then its form and how it did. POST: store a test of it."""
    night = nights.get_night(viewer, key)
    if request.method == "POST":
        if "label" in request.POST:
            return _open_labelled_device(request, viewer, night)
        if "ask_name" in request.POST:
            return _ask_owner(request, viewer, night)
        return _receive_test(request, viewer, night)
    if request.GET.get("device"):
        device = _get_night_device(night, request.GET["device"])
        if device is None:
            return _render_device_choice(request, night, label=request.GET["device"])
        procedure = _get_chosen_procedure(request, request.GET.get("test", ""))
        form = BenchTestForm(procedure, initial=get_last_numbers(request, night.key))
        return _render_bench_device(request, viewer, night, device, form)
    if request.GET.get("tag", "").strip():
        return _find_tagged_device(request, viewer, night, " ".join(request.GET["tag"].split()))
    return _render_device_choice(request, night)


def _open_labelled_device(request: HttpRequest, viewer: Viewer, night: NightRow) -> HttpResponse:
    """Return the key on the label opens the device for this night; its owner sees that."""
    try:
        opened = attendance.open_device_by_label(by=viewer, night=night.key, label=request.POST["label"])
    except BenchnightError as error:
        if error.kind not in ("not_found", "conflict"):
            raise
        return _render_device_choice(request, night, unopened=True)
    where = f"{get_night_url(night.key, 'night_bench')}?{urlencode({'device': opened.key})}"
    return HttpResponseRedirect(where)


def _ask_owner(request: HttpRequest, viewer: Viewer, night: NightRow) -> HttpResponse:
    """Ask by name and tag. The answer is the same whether or not there is such a device."""
    try:
        attendance.request_device(
            by=viewer,
            night=night.key,
            name=request.POST.get("ask_name", ""),
            tag=request.POST.get("ask_tag", ""),
        )
    except BenchnightError as error:
        if error.kind == "not_found":
            raise
        return _render_device_choice(request, night, fault=error.detail)
    messages.success(
        request,
        "Asked. If an account of this name has a device with this tag, its owner can say yes on its page.",
    )
    return HttpResponseRedirect(get_night_url(night.key, "night_bench"))


def _find_tagged_device(request: HttpRequest, viewer: Viewer, night: NightRow, typed: str) -> HttpResponse:
    """Return a tag as it was typed, or what a scanner typed for it."""
    scanned = LABEL_ADDRESS.search(typed)
    wanted = labels.find_label(viewer, scanned.group(1)).device or scanned.group(1) if scanned else typed
    found = [row for row in night.devices if row.tag.casefold() == wanted.casefold()]
    if not found and DEVICE_KEY.fullmatch(wanted):
        found = [row for row in night.devices if row.key == wanted]
        if not found:
            return _render_device_choice(request, night, label=wanted)
    if len(found) == 1:
        where = f"{get_night_url(night.key, 'night_bench')}?{urlencode({'device': found[0].key})}"
        return HttpResponseRedirect(where)
    return _render_device_choice(request, night, alike=found, unknown="" if found else wanted, tag=typed)


def _render_device_choice(request: HttpRequest, night: NightRow, **found: Any) -> HttpResponse:
    """Return which device: a tag to type or scan, and those that wait."""
    lines = nights_presenters.present_night_devices(night.devices)
    context = {
        "night": night,
        "title": nights_presenters.get_night_title(night),
        "waiting": [line for line in lines if not line.measured],
        "measured": nights_presenters.format_measured_count(night.devices),
        "cautions": cautions.list_cautions("night"),
        **found,
    }
    return rendering.render_page(request, "nights/bench.html", context, status=_choose_status(found))


def _choose_status(found: Mapping[str, Any]) -> int:
    if found.get("unknown") or found.get("unopened"):
        return 404
    return 422 if found.get("fault") else 200


def _render_bench_device(
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
        "title": nights_presenters.get_night_title(night),
        "device": device,
        "line": nights_presenters.present_night_devices((device,))[0],
        "form": form,
        "procedure": form.procedure,
        "procedures": _list_procedures(device, form.procedure),
        "cautions": cautions.list_cautions_for_kind(form.procedure.kind),
        "jig_missing": form.procedure.kind == "common_mode" and not night.jig_files,
        **(_render_outcome(viewer, night, device, stored, new="again" not in request.GET) if stored else {}),
    }
    return rendering.render_page(request, "nights/bench_device.html", context, status=status)


def _receive_test(request: HttpRequest, viewer: Viewer, night: NightRow) -> HttpResponse:
    device = _get_night_device(night, request.POST.get("device", ""))
    if device is None:
        raise BenchnightError(
            "device.not_found",
            "That device is not on this night's list (any more). Choose it again from the bench.",
            kind="not_found",
        )
    procedure = _get_chosen_procedure(request, request.POST.get("test", ""))
    files = receive_files(request, viewer, procedure.main_files)
    form = BenchTestForm(procedure, data=request.POST, held=files.held)
    stored = _store_test(viewer, night, device, form, files)
    if stored is None:
        if _wants_json(request):
            return JsonResponse({"faults": form.fault_list()}, status=422)
        return _render_bench_device(request, viewer, night, device, form, status=422)
    staging.drop_staged_files(by=viewer, keys=[each.key for each in files.held.values()])
    remember_bench_test(request, night.key, procedure.key, form.data)
    where = {"device": device.key, "test": procedure.key, "stored": stored.key}
    if not stored.created:
        where["again"] = "yes"
    page = f"{get_night_url(night.key, 'night_bench')}?{urlencode(where)}"
    if not _wants_json(request):
        return HttpResponseRedirect(page)
    context = {
        "night": night,
        "device": device,
        **_render_outcome(viewer, night, device, stored.key, new=stored.created),
    }
    return JsonResponse(
        {"address": page, "html": render_to_string("nights/parts/bench_outcome.html", context)}
    )


def _store_test(
    viewer: Viewer, night: NightRow, device: NightDeviceRow, form: BenchTestForm, files: ReceivedFiles
) -> WriteResult | None:
    """Return the test, or None with the faults shown in the form."""
    form.is_valid()
    for role, fault in files.faults.items():
        form.add_error(role if role in form.fields else None, fault)
    if form.errors:
        return None
    try:
        return tests_services.record_test(
            by=viewer,
            device=device.key,
            uploads={role: Upload(held.name, held.data) for role, held in files.held.items()},
            settings=parse_settings(form.setting_texts(device.ratio)),
            measured_on=night.held_on,
            night=night.key,
        )
    except BenchnightError as error:
        form_handling.add_error_to_form(form, error)
        return None


def _render_outcome(
    viewer: Viewer, night: NightRow, device: NightDeviceRow, key: str, *, new: bool
) -> dict[str, Any]:
    """Return the verdict of a test that was just stored, band by band, and how far the night is now."""
    test = tests_selectors.get_test(viewer, key)
    lines = tests_presenters.present_bands(test.result)
    said, outcome = tests_presenters.summarise_verdicts(lines)
    waiting = [row for row in night.devices if not row.tests and row.key != device.key]
    return {
        "stored": test,
        "is_new": new,
        "said": said,
        "outcome": outcome,
        "lines": lines,
        "limit": tests_presenters.describe_result_limit(test.result),
        "kind_words": wording.format_method(test.kind, test.method),
        "finding": wording.FINDINGS.get(str(test.result["summary"].get("finding")), ""),
        "flags": [flag for flag in test.result["flags"] if flag["severity"] != "note"],
        "notes": [flag for flag in test.result["flags"] if flag["severity"] == "note"],
        "waiting": waiting,
        "measured": f"{len(night.devices) - len(waiting)} of {len(night.devices)} measured",
    }


def _get_night_device(night: NightRow, key: str) -> NightDeviceRow | None:
    return next((row for row in night.devices if row.key == key), None)


def _get_chosen_procedure(request: HttpRequest, asked: str) -> Procedure:
    """Return the test of the query, else the last one made on this bench, else the first of the
    table.
    """
    chosen = PROCEDURES_BY_KEY.get(asked) or PROCEDURES_BY_KEY.get(get_last_procedure(request))
    return chosen if chosen in BENCH_PROCEDURES else PROCEDURES[0]


def _list_procedures(device: NightDeviceRow, chosen: Procedure) -> list[tuple[Procedure, str, bool]]:
    """Return every test that the bench offers, with its words and whether it is the chosen one.

    Straight through judges 1:1 devices only, and the series resistor all others.
    """
    unfit = "insertion_loss.direct" if device.ratio != "1:1" else "insertion_loss.series_resistor"
    return [
        (each, wording.format_method(each.kind, each.method), each is chosen)
        for each in BENCH_PROCEDURES
        if each.key != unfit or each is chosen
    ]


def _wants_json(request: HttpRequest) -> bool:
    return request.headers.get("Accept") == "application/json"
