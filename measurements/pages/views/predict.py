"""What should I wind? The wish with its ranked proposals, and one winding with its curves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.charts import prediction_chart
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import designs as register
from measurements.pages import chances, door, faults, figures, pace, tables
from measurements.pages.chances import BandLine, Chance
from measurements.pages.forms.predict import OneForm, WindingForm, WishForm
from measurements.pages.views import pictures
from measurements.queries import believed, curves, predictions, proposals, reference, winding_words
from measurements.queries.rows import CurveSet
from measurements.queries.rows_of_predictions import PredictionRow, ProposalRow
from measurements.rf.validating import GOAL

CAPTIONS = (
    (
        "rejection",
        "Predicted rejection: the middle device, and the interval that eight in ten new devices are in.",
    ),
    ("impedance", "Predicted impedance: |Z| with the same interval, and the middle R and X."),
)
FIELDS = {"recipe": None, "cores": "part", "cores.part": "part", "winding.turns": "turns"}


@dataclass(frozen=True)
class Shown:
    """A proposal with its words and the address of its own page."""

    row: ProposalRow
    chance: Chance
    bands: list[BandLine]
    address: str
    behind: str
    size: str


def wish(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the question and, where bands were chosen, the proposals. The whole state is in the address."""
    form = WishForm(request.GET)
    known = believed.of(viewer)
    context: dict[str, Any] = {
        "form": form,
        "band_rows": reference.bands(),
        "group_benchmark_db": reference.benchmark_db(),
        "validation": _validation(known.validation),
        "learned_from": known.release,
        "goal": GOAL,
    }
    if request.GET and form.is_valid() and not form.bands:
        form.add_error("band", "Choose the bands that it is for, one or more.")
    if form.is_valid() and form.bands:
        pace.keep(request, viewer)
        try:
            context.update(_answer(viewer, form))
        except BenchnightError as error:
            faults.show(form, error)
    return door.render(request, "predict.html", context, status=400 if form.errors else 200)


def _answer(viewer: Viewer, form: WishForm) -> dict[str, Any]:
    found = proposals.search(viewer, form.wish)
    sizes_mm = believed.sizes_mm()
    shown = [_shown(row, form, found.benchmark_db, sizes_mm) for row in found.proposals]
    return {
        "asked": True,
        "shown": shown,
        "found": found,
        "cautions": found.cautions,
        **(_charts(shown[0].address) if shown else {}),
    }


def _shown(row: ProposalRow, form: WindingForm, benchmark_db: float, sizes_mm: believed.Sizes) -> Shown:
    own = [("part", row.part), ("stacked", str(row.stacked)), ("turns", str(row.turns))]
    return Shown(
        row=row,
        chance=chances.chance(row.chance),
        bands=chances.lines(row.bands, benchmark_db),
        address=f"?{urlencode(own + _kept(form))}",
        behind=winding_words.behind(row.rests_on),
        size=_size(row.part, sizes_mm),
    )


def _size(part: str | None, sizes_mm: believed.Sizes) -> str:
    return figures.core_size(sizes_mm[part]) if part in sizes_mm else ""


def _kept(form: WindingForm) -> list[tuple[str, str]]:
    """How it is wound and what it is held against, as words of an address."""
    typed = form.cleaned_data
    kept = [(name, str(typed[name])) for name in ("ratio", "style", "conductor") if typed[name]]
    kept += [("benchmark_db", f"{typed['benchmark_db']:g}")] if typed["benchmark_db"] is not None else []
    kept += [("split", "on")] if typed["split"] else []
    return kept + [("band", band) for band in form.bands]


def _charts(address: str) -> dict[str, Any]:
    return {
        "views": CAPTIONS,
        "chart_address": reverse("pages:prediction_chart", kwargs={"form": "json"}),
        "picture_address": reverse("pages:prediction_chart", kwargs={"form": "svg"}),
        "more": f"&{address.removeprefix('?')}",
    }


def one(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what the winding of the address would show."""
    form = OneForm(request.GET)
    context: dict[str, Any] = {"form": form, "band_rows": reference.bands()}
    if form.is_valid():
        try:
            row = _predicted(viewer, form)
        except BenchnightError as error:
            faults.show(form, error, {name: said for name, said in FIELDS.items() if said})
        else:
            context.update(_winding(viewer, row, request.GET.urlencode()))
    return door.render(request, "predict_winding.html", context, status=400 if form.errors else 200)


def _winding(viewer: Viewer, row: PredictionRow, address: str) -> dict[str, Any]:
    return {
        "row": row,
        "chance": chances.chance(row.chance),
        "bands": chances.lines(row.bands, row.benchmark_db),
        "behind": winding_words.behind(row.rests_on),
        "size": _size(row.recipe["cores"][0].get("part"), believed.sizes_mm()),
        "table": tables.of_prediction(row, _released(viewer, row)),
        "cautions": row.cautions,
        **_charts(f"?{address}"),
    }


def chart(request: HttpRequest, viewer: Viewer, form: str) -> HttpResponse:
    """GET: a chart of the winding in the address as Vega-Lite JSON or SVG."""
    asked = OneForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError("predict.winding", "Name a core of the catalogue, how many, and the turns.")
    row = _predicted(viewer, asked)
    view = pictures.chosen(request, "view", prediction_chart.VIEWS, "rejection")
    spec = prediction_chart.build(
        row,
        reference.bands(),
        released=_released(viewer, row),
        view=view,  # type: ignore[arg-type]  # one of VIEWS
        scale=pictures.scale(request),
        tone=pictures.tone(request),
        width_px=pictures.width_px(form, False),
    )
    return pictures.reply(spec, form)


def _predicted(viewer: Viewer, form: OneForm) -> PredictionRow:
    recipe = register.preview(form.recipe)
    return predictions.of_recipe(
        viewer, recipe.as_json, recipe.title, bands=form.bands, benchmark_db=form.benchmark
    )


def _released(viewer: Viewer, row: PredictionRow) -> CurveSet | None:
    """The released curves of the design that this recipe is, as this viewer may see them."""
    same = [near.design for near in row.near if near.same]
    return curves.of_design(viewer, same[0], samples=False) if same else None


def _validation(found: dict[str, Any] | None) -> dict[str, Any] | None:
    """The leave-one-out figures with a row for each mix and one for all."""
    if found is None or found["errors"]["model_db"] is None:
        return None
    rows = [(f"mix {mix}", errors) for mix, errors in found["by_mix"].items()]
    coverage = found["coverage"]
    good = coverage is not None and GOAL[0] <= coverage <= GOAL[1]
    return {**found, "rows": [("all", found["errors"]), *rows], "good": good}
