"""Check standards, for operators and stewards: charts, marking one, and deciding about tests that wait."""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import check_examples
from api.schema.examples import make_list
from api.schema.operations import describe_operation, make_list_serializer
from api.serializers.check_standards import CheckDecision, CheckHold, CheckStandardInput, CheckStandardListed
from api.serializers.check_standards import CheckStandard as CheckStandardShown
from measurements.selectors.check_standards import check_standards as selectors
from measurements.selectors.check_standards import waiting
from measurements.services.check_standards import check_standards as services
from measurements.services.check_standards import holds


class CheckStandardsView(ResourceView):
    members_only = frozenset({"GET", "HEAD", "POST"})

    @describe_operation(
        "check_standards",
        "nights",
        "Check standards",
        "The devices that the group sweeps at every night to see whether a bench still is what it was.",
        shows=make_list_serializer(CheckStandardListed, name="CheckStandards", pages=False),
        example=make_list(check_examples.LISTED),
        refuses=(403,),
        members_only=True,
    )
    def get(self, request: Request) -> Response:
        rows = [CheckStandardListed.represent(row) for row in selectors.list_check_standards(self.viewer)]
        return Response({"results": rows, "next": None, "total": len(rows)})

    @describe_operation(
        "mark_check_standard",
        "nights",
        "Make a device a check standard",
        "It gives no evidence to its design from now on, and operators of the group see its sweeps. The same "
        "device again answers 200 with the one that it is.",
        shows=CheckStandardShown,
        status=201,
        also={200: CheckStandardShown},
        takes={"application/json": CheckStandardInput},
        sends={"device": "c4h9v7z2k8qd"},
        example=check_examples.STANDARD,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        given = CheckStandardInput(data=request.data)
        given.is_valid(raise_exception=True)
        stored = services.mark_check_standard(by=self.viewer, **given.validated_data)
        data = CheckStandardShown.represent(selectors.get_check_standard(self.viewer, stored.key))
        where = build_absolute_address(request, "check_standard", stored.key)
        return Response(data, status=201 if stored.created else 200, headers={"Location": where})


class CheckStandardView(ResourceView):
    members_only = frozenset({"GET", "HEAD", "DELETE"})

    @describe_operation(
        "check_standard",
        "nights",
        "A check standard",
        "With a chart for each bench, what benches read apart, and the tests that it held back.",
        shows=CheckStandardShown,
        example=check_examples.STANDARD,
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(CheckStandardShown.represent(selectors.get_check_standard(self.viewer, id)))

    @describe_operation(
        "end_check_standard",
        "nights",
        "End a check standard",
        "The device stays, and may vote again. Tests that wait go on waiting.",
        shows=None,
        status=204,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def delete(self, request: Request, id: str) -> HttpResponseBase:
        services.end_check_standard(by=self.viewer, standard=id)
        return Response(status=204)


class CheckHoldsView(ResourceView):
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "check_holds",
        "nights",
        "Tests that wait",
        "Of nights that you run, and of days that you measured outside nights: the check standard is out of "
        "control; all of the group's for a steward.",
        shows=make_list_serializer(CheckHold, name="CheckHolds", pages=False),
        example=make_list(check_examples.HOLD),
        refuses=(403,),
        members_only=True,
    )
    def get(self, request: Request) -> Response:
        rows = [CheckHold.represent(row) for row in waiting.list_open_holds(self.viewer)]
        return Response({"results": rows, "next": None, "total": len(rows)})


class CheckHoldView(ResourceView):
    members_only = frozenset({"GET", "HEAD", "POST"})

    @describe_operation(
        "check_hold",
        "nights",
        "Why tests wait",
        "A later sweep of the same night or day that is in control lets them count by itself.",
        shows=CheckHold,
        example=check_examples.HOLD,
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(CheckHold.represent(waiting.get_open_hold(self.viewer, id)))

    @describe_operation(
        "release_waiting_tests",
        "nights",
        "Let waiting tests count",
        "An operator decides that they count although the check standard was out of control. The server "
        "keeps name and reason.",
        shows=None,
        status=204,
        takes={"application/json": CheckDecision},
        sends={"reason": "A plug had come off the check standard."},
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> HttpResponseBase:
        given = CheckDecision(data=request.data)
        given.is_valid(raise_exception=True)
        holds.release_tests(by=self.viewer, hold=id, reason=given.validated_data["reason"])
        return Response(status=204)
