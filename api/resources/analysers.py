"""A member's own analysers: described once, named by tests, measured with check sweeps."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers
from api.http.parsers import Multipart
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import analyser_examples as examples
from api.schema.operations import describe_operation, make_list_serializer
from api.serializers.analysers import Analyser, AnalyserChecks, AnalyserInput
from measurements.selectors.analysers import analysers as selectors
from measurements.services.analysers import analysers as services
from measurements.services.analysers.analysers import CHECK_ROLES


class AnalysersView(ResourceView):
    members_only = frozenset({"GET", "HEAD", "POST"})

    @describe_operation(
        "analysers",
        "analysers",
        "Your analysers",
        "The analysers that you described, by name. Nobody else sees them.",
        shows=make_list_serializer(Analyser, name="Analysers", pages=False),
        example={"results": [examples.ANALYSER], "next": None, "total": 1},
        members_only=True,
    )
    def get(self, request: Request) -> Response:
        rows = [Analyser.represent(row) for row in selectors.list_analysers(self.viewer)]
        return Response({"results": rows, "next": None, "total": len(rows)})

    @describe_operation(
        "describe_analyser",
        "analysers",
        "Describe an analyser",
        "Once; tests and nights then name it by its key in `analyser`. What is left out keeps the cautious "
        "default: one path leaves the match of port 2 at 20 dB.",
        shows=Analyser,
        status=201,
        takes={"application/json": AnalyserInput},
        sends=examples.ANALYSER_INPUT,
        example=examples.ANALYSER,
        refuses=(403, 409),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        given = AnalyserInput(data=request.data)
        given.is_valid(raise_exception=True)
        made = services.describe_analyser(by=self.viewer, **given.validated_data)
        data = Analyser.represent(selectors.get_analyser(self.viewer, made.key))
        where = build_absolute_address(request, "analyser", made.key)
        return Response(data, status=201, headers={"Location": where})


class AnalyserView(ResourceView):
    members_only = frozenset({"GET", "HEAD", "PATCH", "DELETE"})

    @describe_operation(
        "analyser",
        "analysers",
        "An analyser of yours",
        "As described, as measured, and what a budget takes of it.",
        shows=Analyser,
        example=examples.ANALYSER,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(Analyser.represent(selectors.get_analyser(self.viewer, id)))

    @describe_operation(
        "change_analyser",
        "analysers",
        "Change an analyser",
        "Changes the fields that are sent; null takes a number back to its default. Stored tests keep the "
        "description that they used.",
        shows=Analyser,
        takes={"application/json": AnalyserInput(partial=True)},
        sends={"drift_db": 0.05},
        example=examples.ANALYSER,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def patch(self, request: Request, id: str) -> Response:
        now = selectors.get_analyser(self.viewer, id)
        given = AnalyserInput(data=request.data, partial=True)
        given.is_valid(raise_exception=True)
        fields = {"name": now.name, "calibration": now.calibration, **now.stated, **given.validated_data}
        services.change_analyser(by=self.viewer, analyser=id, **fields)
        return Response(Analyser.represent(selectors.get_analyser(self.viewer, id)))

    @describe_operation(
        "forget_analyser",
        "analysers",
        "Forget an analyser",
        "Stored tests keep the description that they used.",
        shows=None,
        status=204,
        refuses=(403, 404),
        members_only=True,
    )
    def delete(self, request: Request, id: str) -> HttpResponseBase:
        services.forget_analyser(by=self.viewer, analyser=id)
        return Response(status=204)


class AnalyserChecksView(ResourceView):
    parser_classes = (Multipart,)
    members_only = frozenset({"POST", "DELETE"})

    @describe_operation(
        "check_analyser",
        "analysers",
        "Measure an analyser",
        "Up to three check sweeps, made right after a calibration, replace earlier ones: `check_through` "
        "(the jig closed on itself: match of port 2, transmission tracking), `check_line` (an open or short "
        "at the end of 1 m of coax: tracking, source match), `check_load` (a load that the calibration did "
        "not use, measured with a meter: directivity). The calibration's own standards read perfect by "
        "construction and show nothing. The sweeps are read and forgotten.",
        shows=Analyser,
        takes={"multipart/form-data": AnalyserChecks},
        example=examples.ANALYSER,
        refuses=(403, 404),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        selectors.get_analyser(self.viewer, id)  # before any file is read
        given = AnalyserChecks(data=request.data)
        given.is_valid(raise_exception=True)
        most = min(settings.BENCHNIGHT_SWEEP_BYTES, settings.BENCHNIGHT_BODY_BYTES // len(CHECK_ROLES))
        files = {
            role: parsers.read_file(request.FILES[role], role, most)
            for role in CHECK_ROLES
            if role in request.FILES
        }
        services.check_analyser(
            by=self.viewer,
            analyser=id,
            uploads=files,
            line_end=given.validated_data.get("line_end", "open"),
            load_ohm=given.validated_data.get("load_ohm"),
        )
        return Response(Analyser.represent(selectors.get_analyser(self.viewer, id)))

    @describe_operation(
        "forget_checks",
        "analysers",
        "Forget check sweeps",
        "A new calibration makes them out of date; the description is again as stated.",
        shows=None,
        status=204,
        refuses=(403, 404),
        members_only=True,
    )
    def delete(self, request: Request, id: str) -> HttpResponseBase:
        services.forget_checks(by=self.viewer, analyser=id)
        return Response(status=204)
