"""Up to four designs side by side, on one chart and in one table; the address is what one shares."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.charts import compare_chart
from measurements.charts.compare_chart import LETTERS
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.pages import chart_scale, door, question, standing, tables, words
from measurements.pages.forms.find import FindForm
from measurements.pages.tray import Tray
from measurements.pages.views import pictures
from measurements.queries import curves as design_curves
from measurements.queries import designs, reference, releases
from measurements.queries.rows import CurveSet, DesignRow

CAPTION = "Median rejection of each design. Upright stripes are bands."
RANGE_CAPTION = (
    "Lines: median rejection of each design. Shaded: eight in ten of its devices. Upright stripes are bands."
)


def compare(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the designs named by `design` in the address, judged at `benchmark_db` on each `band`."""
    form = FindForm(request.GET)
    form.is_valid()
    rows = _rows(request, viewer, form)
    by_band = zip(*(row.evidence for row in rows), strict=True) if rows else ()
    gathered, asked = Tray(tuple(row.key for row in rows)), question.words(form)
    context = {
        "form": form,
        "band_rows": reference.bands(),
        "verdicts": list(words.VERDICTS.values()),
        "designs": [
            (letter, row, gathered.without(row.key).comparison(asked))
            for letter, row in zip(LETTERS, rows, strict=False)
        ],
        "asked": question.address("", asked),
        "add_address": question.address(reverse("pages:designs"), asked, gathered.words),
        "full": gathered.full,
        "joint": [standing.of(row.joint) for row in rows if row.joint],
        "table": [(cells[0]["band"], [standing.of(cell) for cell in cells]) for cells in by_band],
        "benchmark_db": rows[0].evidence[0]["benchmark_db"] if rows else reference.benchmark_db(),
        "release": releases.current(),
        **_drawn(request, viewer, gathered, form),
    }
    return door.render(request, "compare.html", context, status=400 if form.errors else 200)


def _drawn(request: HttpRequest, viewer: Viewer, gathered: Tray, form: FindForm) -> dict[str, Any]:
    """What the chart and the table behind it need."""
    scale = pictures.scale(request)
    curves = design_curves.of_designs(viewer, gathered.keys)
    drawn = {
        letter: curves[key] for letter, key in zip(LETTERS, gathered.keys, strict=False) if key in curves
    }
    benchmark = [pair for pair in question.words(form) if pair[0] == "benchmark_db"]
    return {
        "drawn": bool(drawn),
        "undrawn": [letter for letter, _ in zip(LETTERS, gathered.keys, strict=False) if letter not in drawn],
        "behind": tables.of_comparison(drawn) if drawn else None,
        "caption": RANGE_CAPTION if any(_has_range(one) for one in drawn.values()) else CAPTION,
        "chart_address": reverse("pages:compare_chart", kwargs={"form": "json"}),
        "picture_address": reverse("pages:compare_chart", kwargs={"form": "svg"}),
        "more": "&" + question.address("", gathered.words, benchmark)[1:] + chart_scale.word(scale),
        "scales": chart_scale.choices(request, scale),
    }


def _has_range(curves: CurveSet) -> bool:
    return curves.rejection_db["p10"] is not None


def chart(request: HttpRequest, viewer: Viewer, form: str) -> HttpResponse:
    """GET: the chart of the designs in the address as Vega-Lite JSON or SVG."""
    asked = FindForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError(
            "benchmark.out_of_range", "Choose a benchmark from 10 to 40 dB.", field="benchmark_db"
        )
    keys = [row.key for row in _rows(request, viewer, asked)]
    curves = design_curves.of_designs(viewer, keys)
    spec = compare_chart.build(
        [curves.get(key) for key in keys],
        reference.bands(),
        asked.benchmark,
        scale=pictures.scale(request),
        tone=pictures.tone(request),
        width_px=pictures.width_px(form, False),
    )
    return pictures.reply(spec, form)


def _rows(request: HttpRequest, viewer: Viewer, form: FindForm) -> tuple[DesignRow, ...]:
    """The designs asked for, each once; a key that leads nowhere is passed over while another is there.

    Raises BenchnightError for too many, and where none of them is known.
    """
    keys = list(dict.fromkeys(request.GET.getlist("design")))
    if len(keys) > len(LETTERS):
        raise BenchnightError(
            "compare.too_many",
            f"Up to {len(LETTERS)} designs fit side by side; leave some out.",
            field="design",
        )
    asked: dict[str, Any] = {} if form.errors else {"bands": form.bands, "benchmark_db": form.benchmark}
    rows = designs.several(viewer, keys, **asked)
    if keys and not rows:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    return rows
