"""Designs and what the evidence supports for them."""

from __future__ import annotations

from typing import Any

from rest_framework.exceptions import ParseError
from rest_framework.request import Request
from rest_framework.response import Response

from api import examples, replies
from api.addresses import absolute
from api.door import Door
from api.operations import TEXT, listed, operation
from api.renderers import TABLE
from api.serializers import designs as shown
from api.serializers.evidence import BandEvidence
from api.serializers.recipe import Recipe
from measurements.ingest import designs as register
from measurements.queries import designs
from measurements.queries.design_filters import DesignFilters

TABLES = {"text/csv": TEXT, "application/x-ndjson": TEXT}
FILTERS = tuple(DesignFilters.__dataclass_fields__)


class Designs(Door):
    is_shared = True
    renderer_classes = TABLE
    members_only = frozenset({"POST"})
    words = shown.DesignQuery

    @operation(
        "designs",
        "designs",
        "Find designs",
        "Designs that fit the filters, best supported by the evidence first. Several bands are judged "
        "jointly, device by device. The public sees the evidence of "
        "designs with five contributors or more, rounded.",
        shows=listed(shown.Design, name="Designs"),
        media=TABLES,
        words=shown.DesignQuery,
        example=examples.listed(examples.DESIGN),
    )
    def get(self, request: Request) -> Response:
        page = designs.listing(
            self.viewer,
            filters=DesignFilters(**{name: self.asked.get(name) for name in FILTERS}),
            bands=tuple(self.asked.get("band", ())),
            benchmark_db=self.asked.get("benchmark_db"),
            order=self.asked["order"],
            cursor=self.asked.get("cursor"),
            limit=self.asked["limit"],
        )
        return replies.rows(request, shown.Design, page)

    @operation(
        "register_design",
        "designs",
        "Register a design",
        "A recipe. Two members who send the same one, in whatever order, case or unit, reach the same "
        "design: 201 for a new one, 200 with the one that already has this recipe.",
        shows=shown.Design,
        status=201,
        also={200: shown.Design},
        takes={"application/json": Recipe},
        sends=examples.RECIPE,
        example=examples.DESIGN,
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        if not isinstance(request.data, dict):
            raise ParseError
        stored = register.register(by=self.viewer, recipe_given=request.data)
        data = shown.Design(designs.one(self.viewer, stored.key)).data
        where = absolute(request, "design", stored.key)
        return Response(data, status=201 if stored.created else 200, headers={"Location": where})


class Design(Door):
    is_shared = True
    words = shown.EvidenceQuery

    @operation(
        "design",
        "designs",
        "A design",
        "Its recipe, and what the current release supports for it on the bands asked for.",
        shows=shown.Design,
        words=shown.EvidenceQuery,
        example=examples.DESIGN,
        refuses=(404,),
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(shown.Design(designs.one(self.viewer, id, **_question(self.asked))).data)


class DesignEvidence(Door):
    is_shared = True
    renderer_classes = TABLE
    words = shown.EvidenceQuery

    @operation(
        "design_evidence",
        "designs",
        "Evidence of a design",
        "Per band the verdict and its figures. The public sees ranges of counts, values in steps of 0.5 dB, "
        "and neither shares nor percentiles.",
        shows=listed(BandEvidence, name="DesignBands", pages=False),
        media=TABLES,
        words=shown.EvidenceQuery,
        example=examples.listed(examples.BAND_EVIDENCE),
        refuses=(404,),
    )
    def get(self, request: Request, id: str) -> Response:
        rows = designs.evidence(self.viewer, id, **_question(self.asked))
        return replies.rows(request, BandEvidence, rows)


def _question(asked: dict[str, Any]) -> dict[str, Any]:
    return {"bands": tuple(asked.get("band", ())), "benchmark_db": asked.get("benchmark_db")}
