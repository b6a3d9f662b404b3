"""The jig of a night: its three sweeps, once, and the chart of what it can show."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from measurements.charts import jig_chart
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import nights as bench_nights
from measurements.ingest.uploads import Upload
from measurements.pages import bench, cautions, door, jig_words, night_words
from measurements.pages.received_files import Received, received
from measurements.pages.views import pictures
from measurements.pages.views.nights import address
from measurements.queries import nights
from measurements.queries.rows_of_nights import NightRow

WIDTH_PX = 480
FILES = bench.PROCEDURES[0].jig_files


def jig(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: the form of the jig's sweeps. POST: store them; they replace earlier ones as a set."""
    night = nights.one(viewer, key)
    if request.method != "POST":
        return _form_page(request, night, Received())
    files = received(request, viewer, FILES)
    if not files.faults:
        try:
            bench_nights.set_jig(
                by=viewer,
                night=key,
                uploads={role: Upload(held.name, held.data) for role, held in files.held.items()},
            )
        except BenchnightError as error:
            for fault in error.errors:
                line = f" (line {fault.line})" if fault.line else ""
                files.faults[fault.field or ""] = f"{bench.in_words(fault.detail)}{line}"
        else:
            messages.success(request, "The jig is stored. Every common-mode test of the night uses it.")
            return HttpResponseRedirect(f"{address(key)}#jig")
    return _form_page(request, night, files, status=422)


def _form_page(request: HttpRequest, night: NightRow, files: Received, status: int = 200) -> HttpResponse:
    roles = {each.role for each in FILES}
    context = {
        "night": night,
        "title": night_words.title(night),
        "jig": jig_words.of_figures(night.jig_figures),
        "procedure": bench.PROCEDURES[0],
        "slots": files.slots(FILES),
        "faulty": files.faults,
        "rest": [fault for field, fault in files.faults.items() if field not in roles],
        "most_mib": settings.BENCHNIGHT_SWEEP_BYTES // (1024 * 1024),
        "cautions": cautions.AT_NIGHT,
    }
    return door.render(request, "night_jig.html", context, status=status)


def chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the jig's floor per band."""
    pictures.chosen(request, "view", ("floor",), "floor")
    night = nights.one(viewer, key)
    width_px = WIDTH_PX if form == "svg" else None
    spec = jig_chart.build(night.jig_figures, tone=pictures.tone(request), width_px=width_px)
    return pictures.reply(spec, form)
