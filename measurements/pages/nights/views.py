"""The jig of a night: its three sweeps, once, and the chart of what it can show."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import jig_chart
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.check_standards import presenters as checks_presenters
from measurements.pages.layout import cautions, chart_replies, form_handling, procedures, rendering
from measurements.pages.nights import device_lists, presenters
from measurements.pages.nights.forms import NightForm, OperatorForm, PersonForm
from measurements.pages.uploads.staged_files import ReceivedFiles, receive_files
from measurements.selectors.analysers.analysers import list_analysers
from measurements.selectors.check_standards import check_standards
from measurements.selectors.nights import nights as nights_selectors
from measurements.selectors.nights.rows import NightRow
from measurements.services.nights import nights as nights_services
from measurements.services.uploads.uploads import Upload

# Club nights: the list, opening one, its page, and closing it.

PAGE_SIZE = 50

MOST_LISTED = 20  # people and intakes on the page of a night at first


def get_night_url(key: str, name: str = "night") -> str:
    """Return address of a page of a night."""
    return reverse(f"pages:{name}", kwargs={"key": key})


def show_night_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the nights that the viewer runs, the newest first."""
    page = nights_selectors.list_nights(viewer, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    context = {
        "nights": [(row, presenters.get_night_title(row)) for row in page.results],
        "next_page": f"?cursor={page.next_cursor}" if page.next_cursor else "",
    }
    return rendering.render_page(request, "nights/list.html", context)


def show_new_night(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the form of a new night. POST: open it."""
    if request.method != "POST":
        nights_selectors.list_nights(viewer, limit=1)  # says who may, before a form is filled in
        return _render_night_form(request, NightForm(analysers=list_analyser_choices(viewer)))
    form = NightForm(request.POST, analysers=list_analyser_choices(viewer))
    if form.is_valid():
        try:
            stored = nights_services.open_night(by=viewer, **form.fields_given())
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            messages.success(request, "The night is open. Sweep the jig first, then the devices.")
            return HttpResponseRedirect(get_night_url(stored.key))
    return _render_night_form(request, form, status=422)


def show_night_form(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the night as a form. POST: change it, unless somebody else did meanwhile."""
    night = nights_selectors.get_night(viewer, key)
    choices = list_analyser_choices(viewer, night)
    if request.method != "POST":
        said = {True: "true", False: "false", None: ""}[night.calibrated]
        return _render_night_form(
            request,
            NightForm(analysers=choices, initial={**vars(night), "calibrated": said}),
            night=night,
        )
    form = NightForm(request.POST, analysers=choices)
    if form.is_valid():
        try:
            nights_services.update_night(
                by=viewer, night=key, version=get_form_version(request), **form.fields_given()
            )
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            messages.success(request, "The night is changed.")
            return HttpResponseRedirect(get_night_url(key))
    return _render_night_form(request, form, night=night, status=422)


def list_analyser_choices(viewer: Viewer, night: NightRow | None = None) -> list[tuple[str, str]]:
    """Return the operator's own analysers, and the one that the night has already."""
    own = [(row.key, row.name) for row in list_analysers(viewer)]
    if night is None or night.analyser is None or night.analyser in dict(own):
        return own
    return [*own, (night.analyser, night.analyser_name)]


def _render_night_form(
    request: HttpRequest, form: NightForm, *, night: NightRow | None = None, status: int = 200
) -> HttpResponse:
    return rendering.render_page(request, "nights/form.html", {"form": form, "night": night}, status=status)


def show_night(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the night: its jig, its people, its devices, how far it is."""
    return render_night(request, viewer, nights_selectors.get_night(viewer, key))


def render_night(
    request: HttpRequest, viewer: Viewer, night: NightRow, *, status: int = 200, **forms: Any
) -> HttpResponse:
    """Return the night's page, with forms of it as they were sent where they need mending."""
    checked = check_standards.list_night_checks(viewer, night.key)
    lines = presenters.present_night_devices(night.devices)
    all_people = request.GET.get("people") == "all" or bool(forms)
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "listed": device_lists.find_devices(lines, request.GET),
        "filters": device_lists.list_filters(),
        "waiting_count": sum(not line.measured for line in lines),
        "people": night.contributors[: None if all_people else MOST_LISTED],
        "more_people": 0 if all_people else max(0, len(night.contributors) - MOST_LISTED),
        "intakes": night.intakes[:MOST_LISTED],
        "measured": presenters.format_measured_count(night.devices),
        "measured_count": sum(line.measured for line in lines),
        "jig_chart": reverse("pages:night_jig_chart", kwargs={"key": night.key, "form": "json"}),
        "jig_picture": reverse("pages:night_jig_chart", kwargs={"key": night.key, "form": "svg"}),
        "jig": presenters.present_jig(night.jig_figures),
        **checks_presenters.build_night_context(*checked),
        "cautions": cautions.list_cautions("night"),
        "person_form": PersonForm(),
        "operator_form": OperatorForm(),
        "unconfirmed": [row for row in night.contributors if row.is_guest and not row.confirmed],
        **forms,
    }
    return rendering.render_page(request, "nights/night.html", context, status=status)


def show_night_closing(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what closing means. POST: close the night, or open it again."""
    night = nights_selectors.get_night(viewer, key)
    if request.method == "POST":
        act: Callable[..., int] = (
            nights_services.close_night if night.closed_at is None else nights_services.reopen_night
        )
        act(by=viewer, night=key, version=get_form_version(request))
        words = "The night is closed." if night.closed_at is None else "The night is open again."
        messages.success(request, words)
        return HttpResponseRedirect(get_night_url(key))
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "waiting": [row for row in night.devices if not row.tests],
        "unowned": [row for row in night.devices if not row.owner],
        "unbuilt": [row for row in night.devices if row.design is None],
        "unjudged": presenters.list_unjudged_devices(night.devices),
        "unfinished": [row for row in night.intakes if row.state != "done" or row.refused],
    }
    return rendering.render_page(request, "nights/close.html", context)


def get_form_version(request: HttpRequest) -> int:
    """Return the version that a form was filled in on; 0, which is none, where it does not say."""
    typed = request.POST.get("version", "")
    return int(typed) if typed.isdecimal() else 0


JIG_FILES = procedures.PROCEDURES[0].jig_files


def show_jig(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the form of the jig's sweeps. POST: store them; they replace earlier ones as a set."""
    night = nights_selectors.get_night(viewer, key)
    if request.method != "POST":
        return _render_jig_form(request, viewer, night, ReceivedFiles())
    files = receive_files(request, viewer, JIG_FILES)
    if not files.faults:
        try:
            nights_services.set_night_jig(
                by=viewer,
                night=key,
                uploads={role: Upload(held.name, held.data) for role, held in files.held.items()},
            )
        except BenchnightError as error:
            for fault in error.errors:
                line = f" (line {fault.line})" if fault.line else ""
                files.faults[fault.field or ""] = f"{procedures.translate_roles(fault.detail)}{line}"
        else:
            words = "The jig is stored. Rejection uses all of it that night, loss its through."
            messages.success(request, f"{words} Sweep the check standard next.")
            return HttpResponseRedirect(f"{get_night_url(key)}#jig")
    return _render_jig_form(request, viewer, night, files, status=422)


def _render_jig_form(
    request: HttpRequest, viewer: Viewer, night: NightRow, files: ReceivedFiles, status: int = 200
) -> HttpResponse:
    roles = {each.role for each in JIG_FILES}
    context = {
        "night": night,
        "title": presenters.get_night_title(night),
        "jig": presenters.present_jig(night.jig_figures),
        **checks_presenters.build_night_context(*check_standards.list_night_checks(viewer, night.key)),
        "procedure": procedures.PROCEDURES[0],
        "slots": files.slots(JIG_FILES),
        "faulty": files.faults,
        "rest": [fault for field, fault in files.faults.items() if field not in roles],
        "most_mib": settings.BENCHNIGHT_SWEEP_BYTES // (1024 * 1024),
        "cautions": cautions.list_cautions("night"),
    }
    return rendering.render_page(request, "nights/jig.html", context, status=status)


def draw_jig_chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the jig's floor per band."""
    chart_replies.get_choice(request, "view", ("floor",), "floor")
    night = nights_selectors.get_night(viewer, key)
    width_px = chart_replies.choose_width_px(request, form, stacked=False)
    spec = jig_chart.build_jig_chart(
        night.jig_figures, tone=chart_replies.get_tone(request), width_px=width_px
    )
    return chart_replies.reply_chart(spec, form)
