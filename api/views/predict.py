"""What should I wind, what would it show, and which core is this: computed, nothing stored."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response

from api import examples_of_predictions as examples
from api import throttling, uploads
from api.door import Door
from api.operations import operation
from api.parsers import Multipart
from api.serializers import predictions as shown
from measurements.errors import BenchnightError
from measurements.ingest import designs, measured_curve
from measurements.ingest.recipe import Recipe
from measurements.queries import believed, identifications, predictions, proposals
from measurements.queries.wishes import WindingWish

NUMBERS = ("outer_mm", "inner_mm", "height_mm")
WHOLE = ("turns", "stacked")


class Predict(Door):
    scope = throttling.ANALYSE
    words = shown.PredictQuery

    @operation(
        "propose",
        "predictions",
        "What should I wind?",
        "Every core on hand times every number of turns that lie in its bore, ranked by the chance to meet "
        "the "
        "benchmark on all bands asked. Members' predictions rest on the evidence that members see, the "
        "public's "
        "on what the public sees. Nothing here is a power rating. Limited like `analyse/`.",
        shows=shown.Proposals,
        words=shown.PredictQuery,
        example=examples.PROPOSALS,
    )
    def get(self, request: Request) -> Response:
        asked = self.asked
        wish = WindingWish(
            bands=tuple(asked["band"]),
            benchmark_db=asked.get("benchmark_db"),
            ratio=asked["ratio"],
            style=asked["style"],
            conductor=asked["conductor"],
            split=asked["split"],
            mixes=tuple(asked.get("mix", ())),
            parts=tuple(asked.get("core", ())),
            stacked=asked["stacked"],
        )
        found = proposals.search(self.viewer, wish, most=asked["limit"])
        return Response(
            {
                "results": shown.Proposal(found.proposals, many=True).data,
                "bands": list(found.bands),
                "benchmark_db": found.benchmark_db,
                "tried": found.tried,
                "passed_over": [{"mix": mix, "why": why} for mix, why in found.passed_over],
                "release": found.release,
                "validation": believed.of(self.viewer).validation,
                "cautions": [asdict(each) for each in found.cautions],
            }
        )

    @operation(
        "predict",
        "predictions",
        "What would this recipe show?",
        "The curves of new devices of a recipe, with the interval in which eight in ten lie, as far as the "
        "maker's "
        "table of its mix reaches. Nothing is stored.",
        shows=shown.Prediction,
        takes={"application/json": shown.PredictSent},
        sends=examples.ASKED,
        example=examples.PREDICTION,
    )
    def post(self, request: Request) -> Response:
        if not isinstance(request.data, dict):
            raise ParseError
        body = shown.PredictBody(data=request.data)
        body.is_valid(raise_exception=True)
        given = body.validated_data
        recipe = _recipe(given["recipe"])
        row = predictions.of_recipe(
            self.viewer,
            recipe.as_json,
            recipe.title,
            bands=tuple(given.get("bands", ())),
            benchmark_db=given.get("benchmark_db"),
        )
        return Response(shown.Prediction(row).data)


class Identify(Door):
    parser_classes = (Multipart,)
    scope = throttling.ANALYSE

    @operation(
        "identify",
        "predictions",
        "Which core is this?",
        "Turns on an unmarked core and a common-mode sweep of them: every mix with a published table, "
        "ranked by how "
        "well it fits, and what would decide where two are alike. Reads the files and forgets them. "
        "Limited like "
        "`analyse/`.",
        shows=shown.Identification,
        takes={"multipart/form-data": shown.IdentifyForm},
        example=examples.IDENTIFICATION,
    )
    def post(self, request: Request) -> Response:
        given = numbers(uploads.only_texts(request, (*WHOLE, *NUMBERS)))
        curve = measured_curve.of_uploads(uploads.files(request))
        row = identifications.of_curve(
            curve.freq_hz,
            curve.z_ohm,
            turns=given.get("turns", 0),
            size_mm=tuple(given.get(name) for name in NUMBERS),
            stacked=given.get("stacked", 1),
        )
        return Response(shown.Identification(row).data)


def _recipe(given: dict[str, Any]) -> Recipe:
    """The normal form. Raises BenchnightError whose fields begin with `recipe`, as in the body."""
    try:
        return designs.preview(given)
    except BenchnightError as error:
        inside = tuple(
            replace(each, field=f"recipe.{each.field}" if each.field else "recipe") for each in error.errors
        )
        raise BenchnightError(error.code, error.detail, field="recipe", errors=inside) from error


def numbers(given: dict[str, str]) -> dict[str, Any]:
    """Texts of the form as numbers. Raises BenchnightError naming the field that is none."""
    found: dict[str, Any] = {}
    for name, text in given.items():
        try:
            if text.strip():
                found[name] = int(text) if name in WHOLE else float(text.replace(",", "."))
        except ValueError as error:
            raise BenchnightError("field.not_a_number", "Give a number.", field=name) from error
    return found
