"""What ratio device should I wind, and what would it lose? Computed, nothing stored."""

from __future__ import annotations

from dataclasses import asdict

from rest_framework.request import Request
from rest_framework.response import Response

from api.http import throttling
from api.http.views import ResourceView
from api.schema import prediction_examples
from api.schema.operations import describe_operation
from api.serializers import ratio_predictions as serializers
from measurements.rf.ferrites.ratio_prediction import LOSS_LIMIT_DB, SWR_LIMIT
from measurements.selectors.predictions import ratio_predictions
from measurements.selectors.predictions.ratio_predictions import RatioRequest


class PredictRatioView(ResourceView):
    scope = throttling.ANALYSE
    words = serializers.PredictRatioQuery

    @describe_operation(
        "propose_ratio",
        "predictions",
        "What ratio device should I wind?",
        "Loss and SWR of 4:1, 9:1, 49:1 and other devices into their nominal load: cores, stacks, turns and "
        "capacitors ranked, or one winding where `core` and `turns` name it. Eight in ten simulated devices "
        "lie between p10 and p90. Nothing here is a power rating. Limited like `analyse/`.",
        shows=serializers.RatioProposals,
        words=serializers.PredictRatioQuery,
        example=prediction_examples.RATIO_PROPOSALS,
    )
    def get(self, request: Request) -> Response:
        asked = self.asked
        wish = RatioRequest(
            bands=tuple(asked["band"]),
            ratio=asked["ratio"],
            principle=asked["principle"],
            style=asked["style"],
            conductor=asked["conductor"],
            mixes=tuple(asked.get("mix", ())),
            parts=tuple(asked.get("core", ())),
            stacked=asked["stacked"],
            turns=asked.get("turns"),
            far_turns=asked.get("far_turns"),
            capacitor="best" if asked["best_capacitor"] else "none",
            capacitor_f=asked.get("capacitor_f"),
            loss_limit_db=asked.get("loss_limit_db", LOSS_LIMIT_DB),
            swr_limit=asked.get("swr_limit", SWR_LIMIT),
        )
        found = ratio_predictions.find_ratio_proposals(self.viewer, wish, most=asked["limit"])
        return Response(
            {
                "results": [serializers.RatioProposal.represent(row) for row in found.proposals],
                "bands": list(found.bands),
                "ratio": found.ratio,
                "principle": found.principle,
                "loss_limit_db": found.loss_limit_db,
                "swr_limit": found.swr_limit,
                "passed_over": [{"mix": mix, "why": why} for mix, why in found.passed_over],
                "release": found.release,
                "rests_on": found.rests_on,
                "cautions": [asdict(each) for each in found.cautions],
            }
        )
