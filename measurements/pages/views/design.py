"""One design: evidence band by band, curves with the reader's own over them, families and neighbours."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import design_chart
from measurements.charts.frequency_axis import Scale
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.pages import (
    cautions,
    chart_scale,
    door,
    family_table,
    question,
    recipe_words,
    standing,
    tables,
    tray,
    words,
)
from measurements.pages.forms.find import FindForm
from measurements.pages.views import pictures
from measurements.queries import curves as design_curves
from measurements.queries import designs, families, neighbours, own_curves, reference, releases
from measurements.queries.rows import CurveSet, DesignRow, OwnCurveRow


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a design. `benchmark_db` and `band` ask another question, `design` names what is gathered."""
    form = FindForm(request.GET)
    valid = form.is_valid()
    asked: dict[str, Any] = {"bands": form.bands, "benchmark_db": form.benchmark} if valid else {}
    row = designs.one(viewer, key, **asked)
    if row.key != key:  # it was merged into that one
        query = f"?{request.GET.urlencode()}" if request.GET else ""
        return HttpResponseRedirect(reverse("pages:design", kwargs={"key": row.key}) + query)
    context = {
        "form": form,
        "band_rows": reference.bands(),
        "design": row,
        "recipe": recipe_words.lines(row.recipe),
        "bands": [standing.of(each) for each in row.evidence],
        "overall": standing.of(row.joint) if row.joint else None,
        "any_evidence": any(each["devices"] is not None for each in row.evidence),
        "benchmark_db": row.evidence[0]["benchmark_db"] if row.evidence else reference.benchmark_db(),
        "families": family_table.of(row, families.of_design(viewer, row, **asked)),
        "neighbours": [
            (each.step, each.design, [standing.of(band) for band in each.design.evidence])
            for each in neighbours.of_design(viewer, row, **asked)
        ],
        "release": releases.current(),
        "verdicts": list(words.VERDICTS.values()),
        "cautions": cautions.BENCH,
        **_drawn(request, viewer, key, form),
        **_onward(request, key, form),
    }
    return door.render(request, "design.html", context, status=200 if valid else 400)


def _drawn(request: HttpRequest, viewer: Viewer, key: str, form: FindForm) -> dict[str, Any]:
    """What the charts and the table behind them need. Own devices have an address that only they open."""
    scale = pictures.scale(request)
    curves = design_curves.of_design(viewer, key, samples=False)
    own = own_curves.of_design(viewer, key) if curves else ()
    name = "pages:design_own_chart" if own else "pages:design_chart"
    benchmark = [pair for pair in question.words(form) if pair[0] == "benchmark_db"]
    return {
        "own": own,
        "chart_address": reverse(name, kwargs={"key": key, "form": "json"}),
        "picture_address": reverse(name, kwargs={"key": key, "form": "svg"}),
        "more": "".join(f"&{name}={value}" for name, value in benchmark) + chart_scale.word(scale),
        "scales": chart_scale.choices(request, scale),
        "views": _views(curves, own),
        "table": tables.of_curves(curves, own) if curves else None,
    }


def _onward(request: HttpRequest, key: str, form: FindForm) -> dict[str, Any]:
    """Addresses that carry the question on."""
    gathered, asked = tray.of(request).without(key), question.words(form)
    return {
        "asked": question.address("", asked),
        "add_address": gathered.plus(key).comparison(asked),
        "full": gathered.full,
        "gathered": len(gathered.keys),
    }


def _views(curves: CurveSet | None, own: tuple[OwnCurveRow, ...]) -> list[tuple[str, str]]:
    """Name and caption of the charts that there is something for."""
    if curves is None:
        return []
    views = [("rejection", _rejection_caption(curves, own))]
    if curves.impedance_ohm["median"]:
        thin = " Thin lines: your own devices." if own else ""
        views.append(
            ("impedance", f"Median resistance, reactance and magnitude of the common-mode impedance.{thin}")
        )
    return views


def _rejection_caption(curves: CurveSet, own: tuple[OwnCurveRow, ...]) -> str:
    if curves.rejection_db["p10"] is None:
        caption = "Median rejection of the published devices, in steps of 0.5 dB. Upright stripes are bands."
    else:
        caption = (
            "Thick line: median. Shaded: eight in ten devices. Thin grey lines: single devices. "
            "Upright stripes are bands."
        )
    return f"{caption} Your own devices are drawn for you alone." if own else caption


def chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the chart of a design as Vega-Lite JSON or SVG: what is published, the same for a whole circle."""
    row, curves, asked = _asked(request, viewer, key)
    return pictures.reply(_spec(request, row, curves, asked.benchmark, form), form)


def own_chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the same with the reader's own devices over it. Whoever else opens the address sees their own."""
    row, curves, asked = _asked(request, viewer, key)
    own = own_curves.of_design(viewer, key)
    return pictures.reply(_spec(request, row, curves, asked.benchmark, form, own), form, own=True)


def _asked(request: HttpRequest, viewer: Viewer, key: str) -> tuple[DesignRow, CurveSet, FindForm]:
    """What a chart is drawn of. Raises BenchnightError where it cannot be."""
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
    return row, curves, asked


def _spec(
    request: HttpRequest,
    row: DesignRow,
    curves: CurveSet,
    benchmark_db: float,
    form: str,
    own: tuple[OwnCurveRow, ...] = (),
) -> dict[str, Any]:
    view = pictures.chosen(request, "view", design_chart.VIEWS, "rejection")
    scale: Scale = pictures.scale(request)
    return design_chart.build(
        row,
        curves,
        reference.bands(),
        benchmark_db,
        own=own,
        view=view,  # type: ignore[arg-type]  # one of VIEWS
        scale=scale,
        tone=pictures.tone(request),
        width_px=pictures.width_px(form, view == "both"),
    )
