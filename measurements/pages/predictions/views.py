"""What should I wind? The wish with its ranked proposals, and one winding with its curves."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Any
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.charts import prediction_chart
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import chart_replies, figures, form_handling, rendering, tables, throttling
from measurements.pages.predictions import presenters
from measurements.pages.predictions.forms import ProposalForm, SingleWindingForm, WindingForm
from measurements.pages.predictions.presenters import BandChanceLine, Chance
from measurements.rf.ferrites.leave_one_out import COVERAGE_GOAL
from measurements.selectors.evidence import design_curves
from measurements.selectors.evidence.design_curves import CurveSet
from measurements.selectors.predictions import explanations, prediction_basis, predictions, proposals
from measurements.selectors.predictions.rows import PredictionRow, ProposalRow
from measurements.selectors.reference import reference
from measurements.services.designs import designs

CAPTIONS = (
    (
        "rejection",
        "Predicted rejection: the middle device, and the interval that eight in ten new devices are in.",
    ),
    ("impedance", "Predicted impedance: |Z| with the same interval, and the middle R and X."),
)
FIELDS = {"recipe": None, "cores": "part", "cores.part": "part", "winding.turns": "turns"}


@dataclass(frozen=True)
class ProposalLine:
    """A proposal with its words and the address of its own page."""

    row: ProposalRow
    chance: Chance
    bands: list[BandChanceLine]
    address: str
    behind: str
    size: str


def show_proposals(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the question and, where bands were chosen, the proposals. The whole state is in the address."""
    form = ProposalForm(request.GET)
    known = prediction_basis.get_prediction_basis(viewer)
    context: dict[str, Any] = {
        "form": form,
        "band_rows": reference.list_bands(),
        "group_benchmark_db": reference.get_benchmark_db(),
        "validation": _summarise_validation(known.validation),
        "learned_from": known.release,
        "goal": COVERAGE_GOAL,
    }
    if request.GET and form.is_valid() and not form.bands:
        form.add_error("band", "Choose the bands that it is for, one or more.")
    if form.is_valid() and form.bands:
        throttling.count_computation(request, viewer)
        try:
            context.update(_get_proposals(viewer, form))
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
    return rendering.render_page(
        request, "predictions/proposals.html", context, status=400 if form.errors else 200
    )


def _get_proposals(viewer: Viewer, form: ProposalForm) -> dict[str, Any]:
    found = proposals.find_proposals(viewer, form.wish)
    sizes_mm = prediction_basis.get_core_sizes_mm()
    shown = [_present_proposal(row, form, found.benchmark_db, sizes_mm) for row in found.proposals]
    return {
        "asked": True,
        "shown": shown,
        "found": found,
        "cautions": found.cautions,
        **(_list_prediction_charts(shown[0].address) if shown else {}),
    }


def _present_proposal(
    row: ProposalRow, form: WindingForm, benchmark_db: float, sizes_mm: prediction_basis.CoreSizes
) -> ProposalLine:
    own = [("part", row.part), ("stacked", str(row.stacked)), ("turns", str(row.turns))]
    return ProposalLine(
        row=row,
        chance=presenters.present_chance(row.chance),
        bands=presenters.present_band_chances(row.bands, benchmark_db),
        address=f"?{urlencode(own + _list_winding_parameters(form))}",
        behind=explanations.describe_sources(row.rests_on),
        size=_format_part_size(row.part, sizes_mm),
    )


def _format_part_size(part: str | None, sizes_mm: prediction_basis.CoreSizes) -> str:
    return figures.format_core_size(sizes_mm[part]) if part in sizes_mm else ""


def _list_winding_parameters(form: WindingForm) -> list[tuple[str, str]]:
    """Encode the winding and its limit as query parameters."""
    typed = form.cleaned_data
    kept = [(name, str(typed[name])) for name in ("ratio", "style", "conductor") if typed[name]]
    kept += [("benchmark_db", f"{typed['benchmark_db']:g}")] if typed["benchmark_db"] is not None else []
    kept += [("split", "on")] if typed["split"] else []
    return kept + [("band", band) for band in form.bands]


def _list_prediction_charts(address: str) -> dict[str, Any]:
    return {
        "views": CAPTIONS,
        "chart_address": reverse("pages:prediction_chart", kwargs={"form": "json"}),
        "picture_address": reverse("pages:prediction_chart", kwargs={"form": "svg"}),
        "more": f"&{address.removeprefix('?')}",
    }


def show_winding(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what the winding of the address would show."""
    form = SingleWindingForm(request.GET)
    context: dict[str, Any] = {"form": form, "band_rows": reference.list_bands()}
    if form.is_valid():
        throttling.count_computation(request, viewer)
        try:
            row = _predict_winding(viewer, form)
        except BenchnightError as error:
            form_handling.add_error_to_form(
                form, error, {name: said for name, said in FIELDS.items() if said}
            )
        else:
            context.update(_present_winding(viewer, row, request.GET.urlencode()))
    return rendering.render_page(
        request, "predictions/winding.html", context, status=400 if form.errors else 200
    )


def _present_winding(viewer: Viewer, row: PredictionRow, address: str) -> dict[str, Any]:
    return {
        "row": row,
        "chance": presenters.present_chance(row.chance),
        "bands": presenters.present_band_chances(row.bands, row.benchmark_db),
        "behind": explanations.describe_sources(row.rests_on),
        "size": _format_part_size(row.recipe["cores"][0].get("part"), prediction_basis.get_core_sizes_mm()),
        "table": tables.build_prediction_table(row, _get_released_curves(viewer, row)),
        "cautions": row.cautions,
        **_list_prediction_charts(f"?{address}"),
    }


def draw_prediction_chart(request: HttpRequest, viewer: Viewer, form: str) -> HttpResponse:
    """GET: a chart of the winding in the address as Vega-Lite JSON or SVG."""
    asked = SingleWindingForm(request.GET)
    if not asked.is_valid():
        raise BenchnightError("predict.winding", "Name a core of the catalogue, how many, and the turns.")
    row = _predict_winding(viewer, asked)
    view = chart_replies.get_choice(request, "view", prediction_chart.VIEWS, "rejection")
    spec = prediction_chart.build_prediction_chart(
        row,
        reference.list_bands(),
        released=_get_released_curves(viewer, row),
        view=view,  # type: ignore[arg-type]  # one of VIEWS
        scale=chart_replies.get_scale(request),
        tone=chart_replies.get_tone(request),
        width_px=chart_replies.choose_width_px(request, form, False),
    )
    return chart_replies.reply_chart(spec, form)


def _predict_winding(viewer: Viewer, form: SingleWindingForm) -> PredictionRow:
    recipe = designs.preview_design(form.recipe)
    return predictions.predict_recipe(
        viewer, recipe.as_json, recipe.title, bands=form.bands, benchmark_db=form.benchmark
    )


def _get_released_curves(viewer: Viewer, row: PredictionRow) -> CurveSet | None:
    """Return the released curves of the design that this recipe is, as this viewer may see them."""
    same = [near.design for near in row.near if near.same]
    return design_curves.get_design_curves(viewer, same[0]) if same else None


def _summarise_validation(found: dict[str, Any] | None) -> dict[str, Any] | None:
    """Return the leave-one-out figures with a row for each mix and one for all."""
    if found is None or found["errors"]["model_db"] is None:
        return None
    rows = [(f"mix {mix}", errors) for mix, errors in found["by_mix"].items()]
    coverage = found["coverage"]
    good = coverage is not None and COVERAGE_GOAL[0] <= coverage <= COVERAGE_GOAL[1]
    return {**found, "rows": [("all", found["errors"]), *rows], "good": good}
