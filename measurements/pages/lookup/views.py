"""Look up my build: the design with its evidence, or else a prediction with the nearest relatives."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs.presenters import summarise_evidence
from measurements.pages.layout import rendering, throttling
from measurements.pages.predictions import presenters as prediction_presenters
from measurements.selectors.designs import designs, similar_designs
from measurements.selectors.designs.rows import DesignRow, MatchRow
from measurements.selectors.predictions import explanations, predictions
from measurements.selectors.releases import releases
from measurements.services.designs.build_phrases import MOST_CHARACTERS, Phrase
from measurements.services.designs.designs import preview_design, read_build

BANDS = ("160m", "80m", "40m", "20m", "15m", "10m")
NOT_ENOUGH = "not_enough_devices"
EXAMPLES = (
    "12t RG316 FT240-31",
    "2 stacked 2.4 inch mix 43 9 turns bifilar",
    "4:1 balun 2 separate FT240-43 10t",
)


def show_lookup(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the question and, behind a typed build, its reading and the answer."""
    asked = request.GET.get("q", "").strip()
    context: dict[str, Any] = {"q": asked, "examples": EXAMPLES, "most": MOST_CHARACTERS}
    if not asked:
        return rendering.render_page(request, "lookup/lookup.html", context)
    throttling.count_computation(request, viewer)
    try:
        phrase = read_build(asked)
    except BenchnightError as error:
        return rendering.render_page(
            request, "lookup/lookup.html", {**context, "fault": error.detail}, status=400
        )
    context |= {"phrase": phrase, "release": releases.get_current_release()}
    if phrase.understood:
        context |= _find_answer(viewer, phrase)
    return rendering.render_page(request, "lookup/lookup.html", context)


def _find_answer(viewer: Viewer, phrase: Phrase) -> dict[str, Any]:
    """Return the designs that are this build, or the prediction, and always the relatives."""
    matches = similar_designs.list_similar_designs(phrase.recipe)
    rows = designs.list_designs_by_key(viewer, [match.key for match in matches]) if matches else ()
    same_keys = {match.key for match in matches if not match.differs}
    same = [row for row in rows if row.key in same_keys]
    shown = [(row, _summarise(row)) for row in same]
    proven = any(summaries for _, summaries in shown)
    return {
        "same": shown,
        "proven": proven,
        "relatives": _list_relatives(matches, rows),
        **({} if proven else _predict(viewer, phrase)),
    }


def _summarise(row: DesignRow) -> list[Any]:
    return [summarise_evidence(each) for each in row.evidence if each["verdict"] != NOT_ENOUGH]


def _list_relatives(
    matches: tuple[MatchRow, ...], rows: tuple[DesignRow, ...]
) -> list[tuple[MatchRow, list[Any]]]:
    by_key = {row.key: row for row in rows}
    return [
        (match, _summarise(by_key[match.key])) for match in matches if match.differs and match.key in by_key
    ]


def _predict(viewer: Viewer, phrase: Phrase) -> dict[str, Any]:
    """Predict a build whose recipe is whole; where it is not, or the model does not reach, say why."""
    if phrase.missing:
        return {"why_not": f"For a prediction say {' and '.join(phrase.missing)} too."}
    try:
        recipe = preview_design(phrase.recipe)
        row = predictions.predict_recipe(viewer, recipe.as_json, recipe.title, bands=BANDS)
    except BenchnightError as error:
        return {"why_not": error.errors[0].detail if error.errors else error.detail}
    return {
        "predicted": row,
        "chances": prediction_presenters.present_band_chances(row.bands, row.benchmark_db),
        "behind": explanations.describe_sources(row.rests_on),
        "cautions": row.cautions,
    }
