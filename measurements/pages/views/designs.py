"""The list of designs, and one design with its evidence and its curves."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.charts import design_chart
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.pages import cautions, door, faults, heat, recipe_words, standing, tables, words
from measurements.pages.forms.find import RATIOS, FindForm, ListForm
from measurements.pages.views import pictures
from measurements.queries import curves as design_curves
from measurements.queries import designs, families, neighbours, reference, releases
from measurements.queries.rows import DesignRow

PAGE_SIZE = 25


def listing(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: designs that fit the filters; filters, order and place in the list are in the address."""
    form = ListForm(request.GET)
    context: dict[str, Any] = {
        "form": form,
        "ratios": RATIOS,
        "release": releases.current(),
        "band_rows": reference.bands(),
        "verdicts": list(words.VERDICTS.values()),
    }
    if form.is_valid():
        try:
            page = designs.listing(
                viewer,
                filters=form.filters,
                bands=form.bands,
                benchmark_db=form.benchmark,
                order=form.chosen_order,
                cursor=request.GET.get("cursor"),
                limit=PAGE_SIZE,
            )
        except BenchnightError as error:
            faults.show(form, error)
        else:
            following = request.GET.copy()
            following["cursor"] = page.next_cursor or ""
            context.update(
                rows=[
                    (row, _overall(row), [standing.of(each) for each in row.evidence]) for row in page.results
                ],
                next_page=f"?{following.urlencode()}" if page.next_cursor else "",
                heat=heat.rows(
                    families.by_core_and_turns(
                        viewer, filters=form.filters, bands=form.bands, benchmark_db=form.benchmark
                    )
                ),
                bands=form.bands,
                benchmark_db=form.benchmark,
                filtered=any(value for name, value in request.GET.items() if name not in ("order", "cursor")),
            )
    return door.render(request, "designs.html", context, status=400 if form.errors else 200)


def _overall(row: DesignRow) -> standing.Standing | None:
    """The verdict over the bands asked; None where all bands are shown side by side."""
    if row.joint:
        return standing.of(row.joint)
    return standing.of(row.evidence[0]) if len(row.evidence) == 1 else None


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a design. `benchmark_db` and `band` in the address ask another question."""
    form = FindForm(request.GET)
    asked = form.is_valid()
    row = designs.one(viewer, key, benchmark_db=form.benchmark if asked else None)
    curves = design_curves.of_design(viewer, key)
    context = {
        "form": form,
        "design": row,
        "recipe": recipe_words.lines(row.recipe),
        "bands": [standing.of(each) for each in row.evidence],
        "any_evidence": any(each["devices"] is not None for each in row.evidence),
        "benchmark_db": row.evidence[0]["benchmark_db"] if row.evidence else reference.benchmark_db(),
        "neighbours": [
            (each.step, each.design, [standing.of(band) for band in each.design.evidence])
            for each in neighbours.of_design(viewer, key, benchmark_db=form.benchmark if asked else None)
        ],
        "release": releases.current(),
        "curves": curves,
        "chart_address": reverse("pages:design_chart", kwargs={"key": key, "form": "json"}),
        "picture_address": reverse("pages:design_chart", kwargs={"key": key, "form": "svg"}),
        "more": f"&benchmark_db={form.benchmark:g}" if asked else "",
        "views": _views(curves),
        "table": tables.of_curves(curves) if curves else None,
        "verdicts": list(words.VERDICTS.values()),
        "cautions": cautions.BENCH,
    }
    return door.render(request, "design.html", context, status=200 if asked else 400)


def _views(curves: Any) -> list[tuple[str, str]]:
    """Name and caption of the charts that there is something for."""
    if curves is None:
        return []
    views = [("rejection", _rejection_caption(curves))]
    if curves.impedance_ohm["median"]:
        views.append(
            ("impedance", "Median resistance, reactance and magnitude of the common-mode impedance.")
        )
    return views


def _rejection_caption(curves: Any) -> str:
    if curves.rejection_db["p10"] is None:
        return "Median rejection of the published devices, in steps of 0.5 dB. Upright stripes are bands."
    return (
        "Thick line: median. Shaded: eight in ten devices. Thin lines: single devices. "
        "Upright stripes are bands."
    )


def chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the chart of a design as Vega-Lite JSON or SVG; `view`, `tone` and `benchmark_db` choose which."""
    asked = FindForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError(
            "benchmark.out_of_range", "Choose a benchmark from 10 to 40 dB.", field="benchmark_db"
        )
    row = designs.one(viewer, key, benchmark_db=asked.benchmark)
    curves = design_curves.of_design(viewer, key)
    if curves is None:
        raise BenchnightError(
            "design.no_curves", "There are no curves to show of this design yet.", kind="not_found"
        )
    view = pictures.chosen(request, "view", design_chart.VIEWS, "rejection")
    spec = design_chart.build(
        row,
        curves,
        reference.bands(),
        asked.benchmark,
        view=view,  # type: ignore[arg-type]  # one of VIEWS
        tone=pictures.tone(request),
        width_px=pictures.width_px(form, view == "both"),
    )
    return pictures.reply(spec, form)
