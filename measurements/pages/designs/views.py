"""One design: evidence band by band, curves with the reader's own over them, families and neighbours."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import figure_chart, heat_chart
from measurements.charts.panel_layers import Scale
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs import (
    chance_wording,
    citations,
    family_tables,
    figure_tables,
    judged_words,
    pooled_tables,
    presenters,
    query_parameters,
)
from measurements.pages.designs.forms import RATIOS, FindForm, ListForm
from measurements.pages.designs.judged_words import KIND_WORDS
from measurements.pages.designs.query_parameters import Selection
from measurements.pages.layout import (
    cautions,
    chart_replies,
    form_handling,
    numbered_pages,
    rendering,
    wording,
)
from measurements.selectors.designs import designs, families, similar_designs
from measurements.selectors.designs.rows import DesignRow, FamilyRow
from measurements.selectors.evidence import design_curves, figure_curves
from measurements.selectors.evidence.design_curves import CurveSet, OwnCurveRow, Statistic
from measurements.selectors.evidence.figure_curves import AnyCurveSet, LossCurveSet, MatchCurveSet
from measurements.selectors.pooling import pool, pooled_evidence
from measurements.selectors.reference import reference
from measurements.selectors.releases import releases
from measurements.verdict.judged_kinds import COMMON_MODE

CHART_WORDS = ("benchmark_db", "limit", "kind")


def show_design(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a design. `benchmark_db` and `band` ask another question, `design` names what is gathered."""
    form = FindForm(request.GET)
    valid = form.is_valid()
    row = designs.get_design(viewer, key, **form.question)
    words = KIND_WORDS[row.kind]
    if row.key != key:  # it was merged into that one
        query = f"?{request.GET.urlencode()}" if request.GET else ""
        return HttpResponseRedirect(reverse("pages:design", kwargs={"key": row.key}) + query)
    bands = [presenters.summarise_evidence(each) for each in row.evidence]
    release = releases.get_current_release()
    context = {
        "form": form,
        "band_rows": reference.list_bands(),
        "design": row,
        "recipe": presenters.describe_recipe(row.recipe),
        "bands": bands,
        "detail": [each for each in bands if each.percentiles],
        "unanswered": next((each["reason"] for each in row.evidence if each["reason"]), ""),
        "figure_steps": presenters.describe_steps(row.kind),
        "words": words,
        "kinds": judged_words.list_kind_choices(request, row.kind, row.purpose, row.principle, "#bands"),
        "overall": presenters.summarise_evidence(row.joint, [each["band"] for each in row.evidence])
        if row.joint
        else None,
        "chances": [] if row.joint else chance_wording.write_chances_by_band(row.evidence),
        "any_evidence": any(each["devices"] is not None for each in row.evidence),
        "held_against": words.held_against.format(limit=_format_limit(row)),
        "heading_at": words.at.format(limit=_format_limit(row)),
        "limit_text": _format_limit(row),
        "families": family_tables.build_family_table(
            row, families.list_families_of_design(viewer, row, bands=form.question.get("bands", ()))
        ),
        "neighbours": [
            (each.step, each.design, [presenters.summarise_evidence(band) for band in each.design.evidence])
            for each in similar_designs.list_neighbours(viewer, row, **_select_limits(form))
        ],
        "release": release,
        **_build_pooled(row, bands, form),
        "verdicts": list(wording.VERDICTS.values()),
        "cautions": cautions.list_cautions("design"),
        **citations.build_citation(request, viewer, row, form, release.number if release else None),
        **_build_design_charts(request, viewer, row, form),
        **_list_onward_links(request, key, form),
    }
    return rendering.render_page(request, "designs/design.html", context, status=200 if valid else 400)


def _select_limits(form: FindForm) -> dict[str, Any]:
    """Return the question without its kind, which the design has chosen."""
    return {name: value for name, value in form.question.items() if name != "kind"}


def _format_limit(row: DesignRow) -> str:
    """Format what a design is held against, such as `20 dB` or `SWR 1.5`."""
    limit = judged_words.get_limit(row.evidence[0]) if row.evidence else reference.get_limits()[row.kind]
    return KIND_WORDS[row.kind].format_limit(limit)


def _build_pooled(row: DesignRow, bands: list[presenters.EvidenceSummary], form: FindForm) -> dict[str, Any]:
    """Put the evidence of many groups beside this group's, unless the question is about another limit."""
    pooled = pooled_evidence.get_pooled_bands(row.key, row.kind)
    wanted = (form.question.get("benchmark_db"), form.question.get("metric_limit"))
    asked = next((limit for limit in wanted if limit is not None), None)
    if not pooled or (asked is not None and any(own["limit"] != asked for own in pooled.values())):
        return {}
    return {
        "pooled": pooled_tables.build_pooled_table(bands, pooled, KIND_WORDS[row.kind]),
        "pool_copy": pool.get_copy(),
    }


def _build_design_charts(
    request: HttpRequest, viewer: Viewer, row: DesignRow, form: FindForm
) -> dict[str, Any]:
    """Collect the rows of the charts and of the table behind them. Own devices have an address that only they
    open.
    """
    scale, key = chart_replies.get_scale(request), row.key
    curves = figure_curves.get_curves_of_kind(viewer, key, row.kind)
    own = design_curves.list_own_curves(viewer, key) if isinstance(curves, CurveSet) else ()
    name = "pages:design_own_chart" if own else "pages:design_chart"
    asked = [pair for pair in query_parameters.get_query_parameters(form) if pair[0] in CHART_WORDS]
    return {
        "own": own,
        "chart_address": reverse(name, kwargs={"key": key, "form": "json"}),
        "picture_address": reverse(name, kwargs={"key": key, "form": "svg"}),
        "more": "".join(f"&{name}={value}" for name, value in asked)
        + chart_replies.get_scale_parameter(scale),
        "scales": chart_replies.list_scale_choices(request, scale),
        "views": _list_charts(curves, own),
        "table": figure_tables.build_table_of_kind(curves, own) if curves else None,
    }


def _list_onward_links(request: HttpRequest, key: str, form: FindForm) -> dict[str, Any]:
    """Return addresses that carry the question on."""
    gathered, asked = (
        query_parameters.read_selection(request).without(key),
        query_parameters.get_query_parameters(form),
    )
    return {
        "asked": query_parameters.build_url("", asked),
        "add_address": gathered.plus(key).comparison(asked),
        "full": gathered.full,
        "gathered": len(gathered.keys),
    }


def _list_charts(curves: AnyCurveSet | None, own: tuple[OwnCurveRow, ...]) -> list[tuple[str, str]]:
    """Name and caption of the charts that there is something for."""
    if curves is None:
        return []
    if isinstance(curves, LossCurveSet):
        return _list_loss_charts(curves)
    if isinstance(curves, MatchCurveSet):
        return [("swr", f"SWR in the nominal load. {_describe_lines(curves.swr)}")]
    views = [("rejection", _write_rejection_caption(curves, own))]
    if curves.impedance_ohm["median"]:
        thin = " Thin lines: your own devices." if own else ""
        views.append(
            ("impedance", f"Median resistance, reactance and magnitude of the common-mode impedance.{thin}")
        )
    return views


def _list_loss_charts(curves: LossCurveSet) -> list[tuple[str, str]]:
    """Loss with its split, and the heat of every 100 W where the split is known."""
    views = [("loss", f"{_describe_lines(curves.loss_db)} Swept at milliwatts.")]
    if curves.heat_w_per_100_w is not None:
        views.append(
            (
                "heat",
                "Watts that stay in the device of every 100 W, by the part of the loss that is no "
                "mismatch. Computed from a sweep at milliwatts: it is no power rating.",
            )
        )
    return views


def _describe_lines(statistic: Statistic) -> str:
    if statistic["p10"] is None:
        return "Line: median. Upright stripes are bands."
    return "Line: median. Shaded: eight in ten devices. Upright stripes are bands."


def _write_rejection_caption(curves: CurveSet, own: tuple[OwnCurveRow, ...]) -> str:
    if curves.rejection_db["p10"] is None:
        caption = "Median rejection of the published devices, in whole dB. Upright stripes are bands."
    else:
        caption = "Line: median, in steps of 0.5 dB. Shaded: eight in ten devices. Upright stripes are bands."
    return f"{caption} Your own devices are drawn for you alone." if own else caption


def draw_design_chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the chart of a design as Vega-Lite JSON or SVG: what is published, the same for a whole circle."""
    row, curves = _read_chart_request(request, viewer, key)
    return chart_replies.reply_chart(_build_chart_spec(request, row, curves, form), form)


def draw_own_design_chart(request: HttpRequest, viewer: Viewer, key: str, form: str) -> HttpResponse:
    """GET: the same with the reader's own devices over it. Whoever else opens the address sees their own."""
    row, curves = _read_chart_request(request, viewer, key)
    own = design_curves.list_own_curves(viewer, key)
    return chart_replies.reply_chart(_build_chart_spec(request, row, curves, form, own), form, own=True)


def _read_chart_request(request: HttpRequest, viewer: Viewer, key: str) -> tuple[DesignRow, AnyCurveSet]:
    """Collect the rows of a chart. Raises BenchnightError where there are none."""
    asked = FindForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError(
            "benchmark.out_of_range", "Choose a benchmark from 10 to 40 dB.", field="benchmark_db"
        )
    row = designs.get_design(viewer, key, **{**asked.question, "bands": ()})
    curves = figure_curves.get_curves_of_kind(viewer, key, row.kind)
    if curves is None:
        raise BenchnightError(
            "design.no_curves", "There are no curves to show of this design yet.", kind="not_found"
        )
    return row, curves


def _build_chart_spec(
    request: HttpRequest,
    row: DesignRow,
    curves: AnyCurveSet,
    form: str,
    own: tuple[OwnCurveRow, ...] = (),
) -> dict[str, Any]:
    views = figure_chart.VIEWS_OF_KIND[row.kind]
    view = chart_replies.get_choice(request, "view", views, views[0])
    scale: Scale = chart_replies.get_scale(request)
    limit = judged_words.get_limit(row.evidence[0]) if row.evidence else reference.get_limits()[row.kind]
    return figure_chart.build_chart_of_kind(
        row,
        curves,
        reference.list_bands(),
        limit,
        own=own,
        view=view,
        scale=scale,
        tone=chart_replies.get_tone(request),
        width_px=chart_replies.choose_width_px(request, form, view == "both"),
    )


# The list of designs: filters, order, the heat map of families, and what is gathered to compare.

PAGE_SIZE = 25

HEAT_ROWS = 8  # each is sixty elements of the page; the picture has more

NO_FILTERS = ("order", "page", "design")

HEAT_WORDS = (
    "q",
    "band",
    "benchmark_db",
    "kind",
    "limit",
    "ratio",
    "purpose",
    "principle",
    "mix",
    "core",
    "turns_min",
    "turns_max",
    "style",
)


def show_design_list(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: designs that fit the filters; filters, order, place and what is gathered are in the address."""
    form, gathered = ListForm(request.GET), query_parameters.read_selection(request)
    context: dict[str, Any] = {
        "form": form,
        "ratios": RATIOS,
        "release": releases.get_current_release(),
        "band_rows": reference.list_bands(),
        "verdicts": list(wording.VERDICTS.values()),
        "gathered": gathered.keys,
    }
    if form.is_valid():
        try:
            context.update(_build_list_context(request, viewer, form, gathered))
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
    return rendering.render_page(request, "designs/list.html", context, status=400 if form.errors else 200)


def _build_list_context(
    request: HttpRequest, viewer: Viewer, form: ListForm, gathered: Selection
) -> dict[str, Any]:
    ranked = designs.rank_designs(
        viewer,
        filters=form.filters,
        **form.question,
        order=form.chosen_order,
    )
    number, count = numbered_pages.get_page_number(request), len(ranked.pks)
    rows = ranked.get_rows((number - 1) * PAGE_SIZE, PAGE_SIZE)
    families_found = _list_families(viewer, form)
    asked = query_parameters.get_query_parameters(form)
    return {
        "lines": presenters.build_design_lines(request, rows, gathered),
        "heads": presenters.build_column_heads(request, form.chosen_order, form.list_kind),
        "kinds": judged_words.list_kind_choices(
            request,
            form.list_kind,
            form.cleaned_data["purpose"] or "choke",
            form.cleaned_data["principle"] or "current",
            "#found",
        ),
        "tray": _list_selected(request, viewer, gathered),
        "side_by_side": gathered.comparison(asked),
        "asked": query_parameters.build_url("", asked, gathered.words),
        "count": count,
        "next_page": numbered_pages.build_next_address(request, count, PAGE_SIZE),
        "pages": numbered_pages.list_page_links(request, count, PAGE_SIZE),
        "heat": family_tables.build_heat_rows(families_found[:HEAT_ROWS]),
        "heat_more": len(families_found) if len(families_found) > HEAT_ROWS else 0,
        "heat_picture": query_parameters.build_url(
            reverse("pages:heat_chart", kwargs={"form": "svg"}),
            [(name, value) for name, values in request.GET.lists() for value in values if name in HEAT_WORDS],
        ),
        "bands": form.bands,
        "held_against": judged_words.describe_limits(form.list_kind, *_get_limits(rows)),
        "heat_words": KIND_WORDS[form.list_kind or COMMON_MODE],
        "filtered": any(value for name, value in request.GET.items() if name not in NO_FILTERS),
    }


def _get_limits(rows: Sequence[DesignRow]) -> tuple[dict[str, float], bool]:
    """Get the limits that these rows are held against by kind, and whether they are of several kinds."""
    limits = reference.get_limits()
    limits = limits | {row.kind: judged_words.get_limit(row.evidence[0]) for row in rows if row.evidence}
    return limits, len({row.kind for row in rows}) > 1


def _list_families(viewer: Viewer, form: ListForm) -> tuple[FamilyRow, ...]:
    return families.list_families_by_core(
        viewer,
        filters=form.filters,
        bands=form.bands,
        benchmark_db=form.benchmark,
        kind=form.list_kind or COMMON_MODE,
    )


def _list_selected(request: HttpRequest, viewer: Viewer, gathered: Selection) -> list[tuple[str, str]]:
    """Return title of each design that is gathered, and the address of this list without it."""
    rows = designs.list_designs_by_key(viewer, list(gathered.keys)) if gathered.keys else ()
    return [(row.title, presenters.build_list_url(request, gathered.without(row.key))) for row in rows]


def draw_heat_map(request: HttpRequest, viewer: Viewer, form: str) -> HttpResponse:
    """GET: the heat map of the list as Vega-Lite JSON or SVG; the same words filter it."""
    asked = ListForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError(
            "filters.faulty", "One of these filters cannot be made out; go by the list of designs."
        )
    found = _list_families(viewer, asked)
    sizes_mm = reference.get_core_sizes_mm()
    cores = [family_tables.format_family_core(row, sizes_mm) for row in found]
    names = [family_tables.name_family(core, row) for core, row in zip(cores, found, strict=True)]
    limit = reference.get_limits()[asked.list_kind or COMMON_MODE]
    return chart_replies.reply_chart(
        heat_chart.build_heat_chart(found, limit, names, tone=chart_replies.get_tone(request)), form
    )
