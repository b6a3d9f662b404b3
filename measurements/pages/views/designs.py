"""The list of designs: filters, order, the heat map of families, and what is gathered to compare."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.charts import heat_chart as heat_picture
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.pages import design_lines, door, faults, heat, question, tray, words
from measurements.pages.forms.find import RATIOS, ListForm
from measurements.pages.tray import Tray
from measurements.pages.views import pictures
from measurements.queries import designs, families, reference, releases
from measurements.queries.rows import FamilyRow

PAGE_SIZE = 25
NO_FILTERS = ("order", "cursor", "design")
HEAT_WORDS = (
    "band",
    "benchmark_db",
    "ratio",
    "purpose",
    "principle",
    "mix",
    "core",
    "turns_min",
    "turns_max",
    "style",
)


def listing(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: designs that fit the filters; filters, order, place and what is gathered are in the address."""
    form, gathered = ListForm(request.GET), tray.of(request)
    context: dict[str, Any] = {
        "form": form,
        "ratios": RATIOS,
        "release": releases.current(),
        "band_rows": reference.bands(),
        "verdicts": list(words.VERDICTS.values()),
        "gathered": gathered.keys,
    }
    if form.is_valid():
        try:
            context.update(_found(request, viewer, form, gathered))
        except BenchnightError as error:
            faults.show(form, error)
    return door.render(request, "designs.html", context, status=400 if form.errors else 200)


def _found(request: HttpRequest, viewer: Viewer, form: ListForm, gathered: Tray) -> dict[str, Any]:
    page = designs.listing(
        viewer,
        filters=form.filters,
        bands=form.bands,
        benchmark_db=form.benchmark,
        order=form.chosen_order,
        cursor=request.GET.get("cursor"),
        limit=PAGE_SIZE,
    )
    following, asked = request.GET.copy(), question.words(form)
    following["cursor"] = page.next_cursor or ""
    return {
        "lines": design_lines.lines(request, page.results, gathered),
        "heads": design_lines.heads(request, form.chosen_order),
        "tray": _tray(request, viewer, gathered),
        "side_by_side": gathered.comparison(asked),
        "asked": question.address("", asked, gathered.words),
        "next_page": f"?{following.urlencode()}" if page.next_cursor else "",
        "heat": heat.rows(_families(viewer, form)),
        "heat_picture": question.address(
            reverse("pages:heat_chart", kwargs={"form": "svg"}),
            [(name, value) for name, values in request.GET.lists() for value in values if name in HEAT_WORDS],
        ),
        "bands": form.bands,
        "benchmark_db": form.benchmark,
        "filtered": any(value for name, value in request.GET.items() if name not in NO_FILTERS),
    }


def _families(viewer: Viewer, form: ListForm) -> tuple[FamilyRow, ...]:
    return families.by_core_and_turns(
        viewer, filters=form.filters, bands=form.bands, benchmark_db=form.benchmark
    )


def _tray(request: HttpRequest, viewer: Viewer, gathered: Tray) -> list[tuple[str, str]]:
    """Title of each design that is gathered, and the address of this list without it."""
    rows = designs.several(viewer, list(gathered.keys)) if gathered.keys else ()
    return [(row.title, design_lines.with_tray(request, gathered.without(row.key))) for row in rows]


def heat_chart(request: HttpRequest, viewer: Viewer, form: str) -> HttpResponse:
    """GET: the heat map of the list as Vega-Lite JSON or SVG; the same words filter it."""
    asked = ListForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError(
            "filters.faulty", "One of these filters cannot be made out; go by the list of designs."
        )
    found = _families(viewer, asked)
    names = [f"{heat.core_words(row)}, {row.shared['turns']} turns" for row in found]
    return pictures.reply(
        heat_picture.build(found, asked.benchmark, names, tone=pictures.tone(request)), form
    )
