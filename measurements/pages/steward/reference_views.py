"""Stewards keep bands, limits, conductors and the group's own numbers."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import form_handling, rendering
from measurements.pages.steward import presenters
from measurements.pages.steward.forms import BandEndForm, BandForm, ConductorForm, LimitForm, SettingForm
from measurements.selectors.reference import reference
from measurements.selectors.reference.reference import BandRow
from measurements.services.reference import band_plan, benchmarks, conductors, group_settings

IN_HZ = {"start_hz": "start_mhz", "stop_hz": "stop_mhz"}


def show_bands(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the band plan, today's and what is to come. POST: change a band, or end one."""
    rows, today = reference.list_band_plan(), timezone.localdate()
    going_on = [row.band for row in rows if row.valid_to is None]
    ends = request.POST.get("act") == "end"
    form = BandForm(
        request.POST if request.method == "POST" and not ends else None,
        initial=_build_band_form(request, rows),
    )
    end_form = BandEndForm(going_on, request.POST if ends else None)
    if request.method == "POST":
        answer = _end_band(request, viewer, end_form) if ends else _change_band(request, viewer, form)
        if answer is not None:
            return answer
    context = {
        "form": form,
        "end_form": end_form,
        "region": reference.get_region(),
        "lines": [(row, presenters.format_band_edges(row), _describe_period(row, today)) for row in rows],
    }
    return _render_reference_page(request, "steward/bands.html", context, form, end_form)


def _build_band_form(request: HttpRequest, rows: tuple[BandRow, ...]) -> dict[str, Any]:
    """Return the form filled with a band of the list, where its "change" was pressed."""
    row = next((row for row in rows if row.band == request.GET.get("band") and row.valid_to is None), None)
    if row is None:
        return {}
    return {"band": row.band, "start_mhz": row.start_hz / 1e6, "stop_mhz": row.stop_hz / 1e6}


def _describe_period(row: BandRow, today: Any) -> str:
    if row.valid_to is not None and row.valid_to < today:
        return "past"
    return "to come" if row.valid_from > today else "in force"


def _change_band(request: HttpRequest, viewer: Viewer, form: BandForm) -> HttpResponse | None:
    return form_handling.submit_form(
        request,
        form,
        lambda: band_plan.change_band(by=viewer, **form.fields_given()),
        said="The band plan is changed. Tests that are stored keep the edges they were judged by.",
        target=reverse("pages:steward_bands"),
        names=IN_HZ,
    )


def _end_band(request: HttpRequest, viewer: Viewer, form: BandEndForm) -> HttpResponse | None:
    return form_handling.submit_form(
        request,
        form,
        lambda: band_plan.end_band(by=viewer, **form.cleaned_data),
        said="The band has an end.",
        target=reverse("pages:steward_bands"),
        names={"valid_from": "last_day"},
    )


def show_limits(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what tests are held against, and were. POST: set a limit from a day on."""
    form = LimitForm(request.POST if request.method == "POST" else None, initial=dict(request.GET.items()))
    if request.method == "POST":
        answer = form_handling.submit_form(
            request,
            form,
            lambda: benchmarks.change_benchmark(by=viewer, **form.fields_given()),
            said="The limit is set. Tests that are stored keep the one they were judged by.",
            target=reverse("pages:steward_limits"),
        )
        if answer is not None:
            return answer
    seen: set[tuple[str, str]] = set()
    lines = []
    for row in reference.list_benchmarks():
        newest = (row.kind, row.metric) not in seen
        seen.add((row.kind, row.metric))
        lines.append((row, presenters.get_limit_name(row), presenters.format_limit(row), newest))
    return _render_reference_page(request, "steward/limits.html", {"form": form, "lines": lines}, form)


def show_conductors(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the conductors that recipes choose from. POST: add one."""
    form = ConductorForm(request.POST if request.method == "POST" else None)
    if request.method == "POST":
        answer = form_handling.submit_form(
            request,
            form,
            lambda: conductors.add_conductor(by=viewer, **form.cleaned_data),
            said="The conductor is on the list; recipes can name it now.",
            target=reverse("pages:steward_conductors"),
        )
        if answer is not None:
            return answer
    context = {"form": form, "rows": reference.list_conductors()}
    return _render_reference_page(request, "steward/conductors.html", context, form)


def show_settings(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the group's numbers beside their house defaults. POST: set one, or go back to its default."""
    rows = reference.list_settings()
    sent = request.POST.get("name") if request.method == "POST" else None
    forms = {row.name: SettingForm(row, request.POST if row.name == sent else None) for row in rows}
    if request.method == "POST":
        answer = _change_setting(request, viewer, forms.get(sent or ""))
        if answer is not None:
            return answer
    lines = [(row, forms[row.name]) for row in rows]
    return _render_reference_page(request, "steward/settings.html", {"lines": lines}, *forms.values())


def _change_setting(request: HttpRequest, viewer: Viewer, form: SettingForm | None) -> HttpResponse | None:
    if form is None:
        raise BenchnightError("group_setting.unknown", "There is no such setting.", kind="not_found")
    name, version = request.POST.get("name", ""), request.POST.get("version", "")
    if request.POST.get("act") == "reset":
        group_settings.reset_group_setting(by=viewer, name=name, version=version)
        messages.success(request, "The house default holds again.")
        return HttpResponseRedirect(reverse("pages:steward_settings"))
    return form_handling.submit_form(
        request,
        form,
        lambda: group_settings.change_group_setting(
            by=viewer, name=name, value=form.cleaned_data["value"], version=version
        ),
        said="The setting is changed.",
        target=reverse("pages:steward_settings"),
        names={name: "value"},
    )


def _render_reference_page(
    request: HttpRequest, template: str, context: dict[str, Any], *forms: Any
) -> HttpResponse:
    faulty = any(form.errors for form in forms)
    return rendering.render_page(request, template, context, status=422 if faulty else 200)
