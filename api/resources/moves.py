"""Moves of tests to the device or the guest that they are of, and the way back."""

from __future__ import annotations

from typing import Any

from rest_framework.request import Request
from rest_framework.response import Response

from api.http.views import ResourceView
from api.schema import examples, night_examples
from api.schema.operations import describe_operation
from api.serializers.moves import Moved, MoveUndone, PersonMoveInput, TestMoveInput
from measurements.services.tests import moves


class TestMoveView(ResourceView):
    __test__ = False
    members_only = frozenset({"POST"})

    @describe_operation(
        "move_test",
        "tests",
        "Move a test to another device",
        "Owners move among their own devices; operators move tests of their night among the devices on its "
        "bench. A move makes nobody a new contributor of evidence.",
        shows=Moved,
        status=201,
        takes={"application/json": TestMoveInput},
        sends={"device": examples.DEVICE["id"]},
        example={"move": "v5v5v5v5v5v5"},
        refuses=(404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        given = _read(TestMoveInput, request)
        done = moves.move_test(by=self.viewer, test=id, device=given["device"])
        return Response({"move": done.key}, status=201)


class NightMovesView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "move_person_tests",
        "nights",
        "Move what one guest brought to another guest",
        "For the night's operators, where the wrong name was chosen: devices that came to this night alone "
        "change their owner, of others this night's tests move.",
        shows=Moved,
        status=201,
        takes={"application/json": PersonMoveInput},
        sends=night_examples.PERSON_MOVE,
        example={"move": "v5v5v5v5v5v5"},
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        done = moves.move_person_tests(by=self.viewer, night=id, **_read(PersonMoveInput, request))
        return Response({"move": done.key}, status=201)


class MoveUndoView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "undo_move",
        "tests",
        "Take a move back",
        "Whole, or not at all where something of it changed since.",
        shows=MoveUndone,
        example={"night": None},
        refuses=(404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        return Response({"night": moves.undo_move(by=self.viewer, move=id) or None})


def _read(serializer: type[Any], request: Request) -> dict[str, Any]:
    given = serializer(data=request.data)
    given.is_valid(raise_exception=True)
    return dict(given.validated_data)
