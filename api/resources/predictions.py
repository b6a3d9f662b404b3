"""What should I wind, what would it show, and which core is this: computed, nothing stored."""

from __future__ import annotations

from dataclasses import asdict, replace
from typing import Any

from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers, throttling
from api.http.parsers import Multipart
from api.http.views import ResourceView
from api.schema import prediction_examples
from api.schema.operations import describe_operation
from api.serializers import predictions as predictions_serializers
from measurements.errors import BenchnightError
from measurements.selectors.predictions import identification, prediction_basis, proposals
from measurements.selectors.predictions import predictions as predictions_selectors
from measurements.selectors.predictions.proposals import WindingRequest
from measurements.services.designs import designs
from measurements.services.designs.recipes import Recipe
from measurements.services.tests import analysis

SIZE_FIELDS = ("outer_mm", "inner_mm", "height_mm")
COUNT_FIELDS = ("turns", "stacked")


class PredictView(ResourceView):
    takes_recipes = True
    scope = throttling.ANALYSE
    words = predictions_serializers.PredictQuery

    @describe_operation(
        "propose",
        "predictions",
        "What should I wind?",
        "Every core on hand times every number of turns that lie in its bore, ranked by the chance to meet "
        "the "
        "benchmark on all bands asked. Members' predictions rest on the evidence that members see, the "
        "public's "
        "on what the public sees. Nothing here is a power rating. Limited like `analyse/`.",
        shows=predictions_serializers.Proposals,
        words=predictions_serializers.PredictQuery,
        example=prediction_examples.PROPOSALS,
    )
    def get(self, request: Request) -> Response:
        asked = self.asked
        wish = WindingRequest(
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
        found = proposals.find_proposals(self.viewer, wish, most=asked["limit"])
        return Response(
            {
                "results": [predictions_serializers.Proposal.represent(row) for row in found.proposals],
                "bands": list(found.bands),
                "benchmark_db": found.benchmark_db,
                "tried": found.tried,
                "passed_over": [{"mix": mix, "why": why} for mix, why in found.passed_over],
                "release": found.release,
                "validation": prediction_basis.get_prediction_basis(self.viewer).validation,
                "cautions": [asdict(each) for each in found.cautions],
            }
        )

    @describe_operation(
        "predict",
        "predictions",
        "What would this recipe show?",
        "The curves of new devices of a recipe, with the interval in which eight in ten lie, as far as the "
        "maker's "
        "table of its mix reaches. Nothing is stored.",
        shows=predictions_serializers.Prediction,
        takes={"application/json": predictions_serializers.PredictSent},
        sends=prediction_examples.PREDICTION_INPUT,
        example=prediction_examples.PREDICTION,
    )
    def post(self, request: Request) -> Response:
        if not isinstance(request.data, dict):
            raise ParseError
        body = predictions_serializers.PredictBody(data=request.data)
        body.is_valid(raise_exception=True)
        given = body.validated_data
        recipe = _preview_recipe(given["recipe"])
        row = predictions_selectors.predict_recipe(
            self.viewer,
            recipe.as_json,
            recipe.title,
            bands=tuple(given.get("bands", ())),
            benchmark_db=given.get("benchmark_db"),
        )
        return Response(predictions_serializers.Prediction.represent(row))


class IdentifyView(ResourceView):
    parser_classes = (Multipart,)
    scope = throttling.ANALYSE

    @describe_operation(
        "identify",
        "predictions",
        "Which core is this?",
        "Turns on an unmarked core and a common-mode sweep of them: every mix with a published table, "
        "ranked by how "
        "well it fits, and what would decide where two are alike. Reads the files and forgets them. "
        "Limited like "
        "`analyse/`.",
        shows=predictions_serializers.Identification,
        takes={"multipart/form-data": predictions_serializers.IdentifyForm},
        example=prediction_examples.IDENTIFICATION,
    )
    def post(self, request: Request) -> Response:
        given = parse_numbers(parsers.read_texts(request, (*COUNT_FIELDS, *SIZE_FIELDS)))
        curve = analysis.read_measured_curve(parsers.read_files(request))
        row = identification.identify_mix(
            curve.freq_hz,
            curve.z_ohm,
            turns=given.get("turns", 0),
            size_mm=tuple(given.get(name) for name in SIZE_FIELDS),
            stacked=given.get("stacked", 1),
        )
        return Response(predictions_serializers.Identification.represent(row))


def _preview_recipe(given: dict[str, Any]) -> Recipe:
    """Return the normal form. Raises BenchnightError whose fields begin with `recipe`, as in the body."""
    try:
        return designs.preview_design(given)
    except BenchnightError as error:
        inside = tuple(
            replace(each, field=f"recipe.{each.field}" if each.field else "recipe") for each in error.errors
        )
        raise BenchnightError(error.code, error.detail, field="recipe", errors=inside) from error


def parse_numbers(given: dict[str, str]) -> dict[str, Any]:
    """Parse form values as numbers. Raises BenchnightError with the name of the first invalid field."""
    found: dict[str, Any] = {}
    for name, text in given.items():
        try:
            if text.strip():
                found[name] = int(text) if name in COUNT_FIELDS else float(text.replace(",", "."))
        except ValueError as error:
            raise BenchnightError("field.not_a_number", "Give a number.", field=name) from error
    return found
