"""The pages of check standards: the list, one with its charts, marking one, deciding about waiting tests."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import check_chart
from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.check_standards import presenters
from measurements.pages.check_standards.forms import MarkForm, ReleaseForm
from measurements.pages.layout import chart_replies, form_handling, rendering
from measurements.selectors.check_standards import check_standards, waiting
from measurements.selectors.devices import devices
from measurements.services.check_standards import check_standards as check_standards_services
from measurements.services.check_standards import holds

CHART_NUMBERS = tuple(str(number) for number in range(100))


def show_check_standards(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: every check standard of the group, and the tests that wait for a decision of the viewer."""
    rows = check_standards.list_check_standards(viewer)
    context = {
        "standards": [(row, presenters.STATES[row.state]) for row in rows],
        "waiting": waiting.list_open_holds(viewer),
    }
    return rendering.render_page(request, "check_standards/list.html", context)


def show_check_standard(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: one with its charts, the offsets of its benches, and what it held back. POST: end it."""
    row = check_standards.get_check_standard(viewer, key)
    if request.method == "POST":
        check_standards_services.end_check_standard(by=viewer, standard=key)
        messages.success(request, f"{row.tag} is no check standard any more. Tests that wait go on waiting.")
        return HttpResponseRedirect(reverse("pages:check_standards"))
    band = request.GET.get("band", "")
    context = {
        "standard": row,
        "said": presenters.STATES[row.state],
        "charts": [presenters.present_chart(row, chart, band) for chart in row.charts],
        "bands": list(dict.fromkeys(each.band for chart in row.charts for each in chart.bands)),
        "wanted": band,
        "offsets": [(offset, presenters.build_offset_table(offset)) for offset in row.offsets],
        "check_holds": [{"row": hold, "ended": presenters.ENDED[hold.ended_how]} for hold in row.holds],
        "check_caption": presenters.CAPTION,
    }
    return rendering.render_page(request, "check_standards/standard.html", context)


def draw_check_chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the chart of one bench on one band."""
    chart_replies.get_choice(request, "view", ("check",), "check")
    row = check_standards.get_check_standard(viewer, key)
    number = int(chart_replies.get_choice(request, "chart", CHART_NUMBERS, "0"))
    spec = None
    if number < len(row.charts):
        spec = check_chart.build_check_chart(
            row.charts[number],
            request.GET.get("band", ""),
            tone=chart_replies.get_tone(request),
            width_px=chart_replies.choose_width_px(request, form, stacked=False),
        )
    return chart_replies.reply_chart(spec, form, own=True)


def show_mark_form(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: what a check standard is, before a device is made one. POST: make it one."""
    policy.check_operator(viewer)
    device = devices.get_device(viewer, key)
    form = MarkForm(request.POST or None)
    if request.method == "POST" and form.is_valid():
        try:
            stored = check_standards_services.mark_check_standard(by=viewer, device=key, **form.cleaned_data)
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            messages.success(request, f"{device.tag} is a check standard. Sweep it at every night.")
            return HttpResponseRedirect(reverse("pages:check_standard", kwargs={"key": stored.key}))
    context = {"device": device, "form": form}
    return rendering.render_page(
        request, "check_standards/mark.html", context, status=422 if form.errors else 200
    )


def show_hold(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: why the tests of a session wait. POST: let them count, with a reason."""
    found = waiting.get_open_hold(viewer, key)
    form = ReleaseForm(request.POST or None)
    if request.method == "POST":
        back = (
            reverse("pages:check_standards")
            if found.night is None
            else reverse("pages:night", kwargs={"key": found.night}) + "#check"
        )
        done = form_handling.submit_form(
            request,
            form,
            lambda: holds.release_tests(by=viewer, hold=key, reason=form.cleaned_data["reason"]),
            said="Decided: these tests count, if nothing else is against them.",
            target=back,
        )
        if done is not None:
            return done
    return rendering.render_page(
        request,
        "check_standards/hold.html",
        {"hold": found, "form": form},
        status=422 if form.errors else 200,
    )
