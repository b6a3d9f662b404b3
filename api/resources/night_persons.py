"""Who of a night's list is a person: a steward confirms guests who came, and joins two who are one person."""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http.views import ResourceView
from api.schema import night_examples
from api.schema.operations import describe_operation
from api.serializers.night_persons import AttendeesConfirmed, ConfirmInput, JoinInput
from measurements.services.nights import persons


class NightConfirmView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "confirm_guests",
        "nights",
        "Confirm guests who came",
        "For stewards. Each confirmed guest counts as a person from the next release on; all others together "
        "count as one. Without `contributors` the whole list of the night is confirmed.",
        shows=AttendeesConfirmed,
        takes={"application/json": ConfirmInput},
        sends=night_examples.CONFIRM_INPUT,
        example=night_examples.CONFIRMED,
        refuses=(403, 404),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        given = ConfirmInput(data=request.data)
        given.is_valid(raise_exception=True)
        attendees = given.validated_data.get("contributors")
        confirmed = persons.confirm_guests(by=self.viewer, night=id, attendees=attendees)
        return Response(AttendeesConfirmed.represent({"confirmed": confirmed}))


class NightJoinView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "join_contributors",
        "nights",
        "Say that two are one person",
        "For stewards. Both are on the night's list, each an account or a confirmed guest. It only ever "
        "lowers counts, also of what was published before; it cannot be undone.",
        shows=None,
        status=204,
        takes={"application/json": JoinInput},
        sends=night_examples.JOIN_INPUT,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> HttpResponseBase:
        given = JoinInput(data=request.data)
        given.is_valid(raise_exception=True)
        persons.join_attendees(by=self.viewer, night=id, **given.validated_data)
        return Response(status=204)
