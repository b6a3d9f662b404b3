"""Up to four designs side by side, on one chart and in one table; the address is what one shares."""

from __future__ import annotations

from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.charts import compare_chart
from measurements.charts.compare_chart import LETTERS
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.pages import door, standing, words
from measurements.pages.forms.find import FindForm
from measurements.pages.views import pictures
from measurements.queries import curves as design_curves
from measurements.queries import designs, reference, releases
from measurements.queries.rows import DesignRow

CAPTION = "Median rejection of each design. Upright stripes are bands."


def compare(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the designs named by `design` in the address, judged at `benchmark_db`."""
    form = FindForm(request.GET)
    benchmark_db = form.benchmark if form.is_valid() else None
    rows = _rows(request, viewer, benchmark_db)
    keys = [row.key for row in rows]
    by_band = zip(*(row.evidence for row in rows), strict=True) if rows else ()
    context = {
        "form": form,
        "verdicts": list(words.VERDICTS.values()),
        "designs": list(zip(LETTERS, rows, strict=False)),
        "table": [(cells[0]["band"], [standing.of(cell) for cell in cells]) for cells in by_band],
        "benchmark_db": rows[0].evidence[0]["benchmark_db"] if rows else reference.benchmark_db(),
        "release": releases.current(),
        "drawn": any(design_curves.of_design(viewer, key) for key in keys),
        "caption": CAPTION,
        "chart_address": reverse("pages:compare_chart", kwargs={"form": "json"}),
        "picture_address": reverse("pages:compare_chart", kwargs={"form": "svg"}),
        "more": "&" + urlencode([("design", key) for key in keys] + _asked(benchmark_db)),
    }
    return door.render(request, "compare.html", context, status=400 if form.errors else 200)


def chart(request: HttpRequest, viewer: Viewer, form: str) -> HttpResponse:
    """GET: the chart of the designs in the address as Vega-Lite JSON or SVG."""
    asked = FindForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError(
            "benchmark.out_of_range", "Choose a benchmark from 10 to 40 dB.", field="benchmark_db"
        )
    rows = _rows(request, viewer, asked.benchmark)
    spec = compare_chart.build(
        [design_curves.of_design(viewer, row.key) for row in rows],
        reference.bands(),
        asked.benchmark,
        tone=pictures.tone(request),
        width_px=pictures.width_px(form, False),
    )
    return pictures.reply(spec, form)


def _rows(request: HttpRequest, viewer: Viewer, benchmark_db: float | None) -> list[DesignRow]:
    """The designs asked for, each once. Raises BenchnightError for too many or an unknown one."""
    keys = list(dict.fromkeys(request.GET.getlist("design")))
    if len(keys) > len(LETTERS):
        raise BenchnightError(
            "compare.too_many",
            f"Up to {len(LETTERS)} designs fit side by side; leave some out.",
            field="design",
        )
    return [designs.one(viewer, key, benchmark_db=benchmark_db) for key in keys]


def _asked(benchmark_db: float | None) -> list[tuple[str, str]]:
    return [] if benchmark_db is None else [("benchmark_db", f"{benchmark_db:g}")]
