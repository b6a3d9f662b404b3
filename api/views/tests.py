"""A member's tests."""

from __future__ import annotations

from datetime import date

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api import examples, replies, throttling, uploads
from api.addresses import absolute
from api.door import Door
from api.operations import TEXT, listed, operation
from api.parsers import Multipart
from api.renderers import TABLE
from api.serializers.tests import Test as TestShown
from api.serializers.tests import TestForm, TestQuery
from measurements.errors import BenchnightError
from measurements.ingest import tests as register
from measurements.ingest.uploads import parse_settings
from measurements.queries import tests

BEYOND_SETTINGS = ("device", "measured_on", "night")


class Tests(Door):
    renderer_classes = TABLE
    parser_classes = (Multipart,)
    members_only = frozenset({"GET", "HEAD", "POST"})
    words = TestQuery

    @operation(
        "tests",
        "tests",
        "Your tests",
        "Your own tests, the last recorded first; an operator's own nights' as well, all for a steward.",
        shows=listed(TestShown, name="Tests"),
        media={"text/csv": TEXT, "application/x-ndjson": TEXT},
        words=TestQuery,
        example=examples.listed(examples.TEST),
        members_only=True,
    )
    def get(self, request: Request) -> Response:
        page = tests.listing(
            self.viewer,
            device=self.asked.get("device"),
            cursor=self.asked.get("cursor"),
            limit=self.asked["limit"],
        )
        return replies.rows(request, TestShown, page)

    @operation(
        "record_test",
        "tests",
        "Record a test",
        "Stores the files unchanged and computes the figures. Sending the same test again, as after a bad "
        "connection, answers 200 with the one already stored. It counts against an hourly limit, except on a "
        "night.",
        shows=TestShown,
        status=201,
        also={200: TestShown},
        takes={"multipart/form-data": TestForm},
        example=examples.TEST,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        texts = uploads.texts(request, BEYOND_SETTINGS)
        if not texts.get(
            "night"
        ):  # an evening at the bench, which only its operators can name, has no such limit
            self.keep_within(throttling.count_upload(self.viewer), "limit.uploads")
        stored = register.record(
            by=self.viewer,
            device=uploads.required(texts, "device", "the key of the device"),
            measured_on=_day(uploads.required(texts, "measured_on", "the day of the measurement")),
            settings=parse_settings(
                {name: text for name, text in texts.items() if name not in BEYOND_SETTINGS}
            ),
            uploads=uploads.files(request),
            night=texts.get("night") or None,
        )
        data = TestShown(tests.one(self.viewer, stored.key)).data
        where = absolute(request, "test", stored.key)
        return Response(data, status=201 if stored.created else 200, headers={"Location": where})


class Test(Door):
    __test__ = False
    members_only = frozenset({"GET", "HEAD", "DELETE"})

    @operation(
        "test",
        "tests",
        "A test",
        "With its result, its files and whether it counts as evidence.",
        shows=TestShown,
        example=examples.TEST,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(TestShown(tests.one(self.viewer, id)).data)

    @operation(
        "withdraw_test",
        "tests",
        "Withdraw a test",
        "Deletes the test, its files and its figures; its evidence goes with the next release. What was "
        "downloaded before cannot be recalled.",
        shows=None,
        status=204,
        refuses=(403, 404),
        members_only=True,
    )
    def delete(self, request: Request, id: str) -> HttpResponseBase:
        register.withdraw(by=self.viewer, test=id)
        return Response(status=204)


def _day(text: str) -> date:
    try:
        return date.fromisoformat(text)
    except ValueError as error:
        raise BenchnightError("field.date", "Give a day as YYYY-MM-DD.", field="measured_on") from error
