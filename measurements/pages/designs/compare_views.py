"""Up to four designs side by side, on one chart and in one table; the address is what one shares."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.charts import compare_chart
from measurements.charts.compare_chart import DESIGN_LETTERS
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs import figure_tables, judged_words, presenters, query_parameters
from measurements.pages.designs.forms import FindForm
from measurements.pages.designs.judged_words import KIND_WORDS, KindWords
from measurements.pages.designs.query_parameters import Selection
from measurements.pages.layout import chart_replies, rendering, wording
from measurements.selectors.designs import designs
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.evidence import figure_curves
from measurements.selectors.evidence.figure_curves import AnyCurveSet
from measurements.selectors.reference import reference
from measurements.selectors.releases import releases
from measurements.verdict.judged_kinds import COMMON_MODE

CAPTION = "Median {noun} of each design. Upright stripes are bands."
RANGE_CAPTION = (
    "Lines: median {noun} of each design. Shaded: eight in ten of its devices. Upright stripes are bands."
)


def show_comparison(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the designs named by `design` in the address, judged at `benchmark_db` on each `band`."""
    form = FindForm(request.GET)
    form.is_valid()
    rows = _get_compared_designs(request, viewer, form)
    words = KIND_WORDS[rows[0].kind if rows else COMMON_MODE]
    limits = {words.kind: _get_limit(rows)}
    by_band = zip(*(row.evidence for row in rows), strict=True) if rows else ()
    gathered, asked = Selection(tuple(row.key for row in rows)), query_parameters.get_query_parameters(form)
    context = {
        "form": form,
        "band_rows": reference.list_bands(),
        "verdicts": list(wording.VERDICTS.values()),
        "designs": [
            (letter, row, gathered.without(row.key).comparison(asked))
            for letter, row in zip(DESIGN_LETTERS, rows, strict=False)
        ],
        "asked": query_parameters.build_url("", asked),
        "add_address": query_parameters.build_url(reverse("pages:designs"), asked, gathered.words),
        "full": gathered.full,
        "joint": [
            presenters.summarise_evidence(row.joint, [each["band"] for each in row.evidence])
            for row in rows
            if row.joint
        ],
        "table": [
            (cells[0]["band"], [presenters.summarise_evidence(cell) for cell in cells]) for cells in by_band
        ],
        "words": words,
        "held_against": judged_words.describe_limits(words.kind, limits, mixed=False),
        "kinds": judged_words.list_kind_choices(request, words.kind, rows[0].purpose, rows[0].principle)
        if rows
        else [],
        "release": releases.get_current_release(),
        **_build_comparison_charts(request, viewer, gathered, form, words),
    }
    return rendering.render_page(request, "designs/compare.html", context, status=400 if form.errors else 200)


def _build_comparison_charts(
    request: HttpRequest, viewer: Viewer, gathered: Selection, form: FindForm, words: KindWords
) -> dict[str, Any]:
    """Collect the rows of the chart and of the table behind it."""
    scale = chart_replies.get_scale(request)
    curves = figure_curves.get_curves_of_kind_by_design(viewer, gathered.keys, words.kind)
    drawn = {
        letter: curves[key]
        for letter, key in zip(DESIGN_LETTERS, gathered.keys, strict=False)
        if key in curves
    }
    known = ("benchmark_db", "limit")
    asked = [pair for pair in query_parameters.get_query_parameters(form) if pair[0] in known]
    asked.append(("kind", words.kind))
    return {
        "drawn": bool(drawn),
        "undrawn": [
            letter for letter, _ in zip(DESIGN_LETTERS, gathered.keys, strict=False) if letter not in drawn
        ],
        "behind": figure_tables.build_comparison_table(drawn) if drawn else None,
        "caption": (RANGE_CAPTION if any(_has_range(one) for one in drawn.values()) else CAPTION).format(
            noun=words.noun
        ),
        "chart_address": reverse("pages:compare_chart", kwargs={"form": "json"}),
        "picture_address": reverse("pages:compare_chart", kwargs={"form": "svg"}),
        "more": "&"
        + query_parameters.build_url("", gathered.words, asked)[1:]
        + chart_replies.get_scale_parameter(scale),
        "scales": chart_replies.list_scale_choices(request, scale),
    }


def _has_range(curves: AnyCurveSet) -> bool:
    return compare_chart.get_judged_curve(curves)["p10"] is not None


def _get_limit(rows: Sequence[DesignRow]) -> float:
    """Get what these designs, all shown by one kind, are held against."""
    if rows and rows[0].evidence:
        return judged_words.get_limit(rows[0].evidence[0])
    return reference.get_limits()[rows[0].kind if rows else COMMON_MODE]


def draw_comparison_chart(request: HttpRequest, viewer: Viewer, form: str) -> HttpResponse:
    """GET: the chart of the designs in the address as Vega-Lite JSON or SVG."""
    asked = FindForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError(
            "benchmark.out_of_range", "Choose a benchmark from 10 to 40 dB.", field="benchmark_db"
        )
    rows = _get_compared_designs(request, viewer, asked)
    keys, kind = [row.key for row in rows], rows[0].kind if rows else COMMON_MODE
    curves = figure_curves.get_curves_of_kind_by_design(viewer, keys, kind)
    spec = compare_chart.build_compare_chart(
        [curves.get(key) for key in keys],
        reference.list_bands(),
        _get_limit(rows),
        scale=chart_replies.get_scale(request),
        tone=chart_replies.get_tone(request),
        width_px=chart_replies.choose_width_px(request, form, False),
    )
    return chart_replies.reply_chart(spec, form)


def _get_compared_designs(request: HttpRequest, viewer: Viewer, form: FindForm) -> tuple[DesignRow, ...]:
    """Return the designs asked for, each once; a key that leads nowhere is passed over while another is
    there.

    Raises BenchnightError for too many, and where none of them is known.
    """
    keys = list(dict.fromkeys(request.GET.getlist("design")))
    if len(keys) > len(DESIGN_LETTERS):
        raise BenchnightError(
            "compare.too_many",
            f"Up to {len(DESIGN_LETTERS)} designs fit side by side; leave some out.",
            field="design",
        )
    rows = designs.list_designs_by_key(viewer, keys, **form.question)
    if keys and not rows:
        raise BenchnightError("design.not_found", "There is no such design.", kind="not_found")
    if len({row.kind for row in rows}) > 1:
        # side by side all are shown by one figure: what the first is judged by
        question = {**form.question, "kind": rows[0].kind}
        rows = designs.list_designs_by_key(viewer, keys, **question)
    return rows
