"""Club nights, for those who run them: opened, read, changed, and their jig's sweeps."""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api import entity_tags, replies, uploads
from api import examples_of_nights as examples
from api.addresses import absolute
from api.door import Door
from api.examples import listed as example_list
from api.operations import TEXT, listed, operation
from api.paging import PageQuery
from api.parsers import Multipart
from api.renderers import TABLE
from api.serializers.nights import JigFigures, JigForm, NightInput, NightListed
from api.serializers.nights import Night as NightShown
from api.views.devices import IF_MATCH
from measurements.errors import BenchnightError
from measurements.ingest import nights as register
from measurements.queries import nights
from measurements.queries.rows_of_nights import NightRow


class Nights(Door):
    renderer_classes = TABLE
    members_only = frozenset({"GET", "HEAD", "POST"})
    words = PageQuery

    @operation(
        "nights",
        "nights",
        "Club nights",
        "The nights that you run, the last opened first; all of the group's for a steward.",
        shows=listed(NightListed, name="Nights"),
        media={"text/csv": TEXT, "application/x-ndjson": TEXT},
        words=PageQuery,
        example=example_list(examples.NIGHT_LISTED),
        refuses=(403,),
        members_only=True,
    )
    def get(self, request: Request) -> Response:
        page = nights.listing(self.viewer, cursor=self.asked.get("cursor"), limit=self.asked["limit"])
        return replies.rows(request, NightListed, page)

    @operation(
        "open_night",
        "nights",
        "Open a night",
        "Operators open a night and run it; only they and stewards know of it.",
        shows=NightShown,
        status=201,
        takes={"application/json": NightInput},
        sends=examples.NIGHT_INPUT,
        example=examples.NIGHT,
        refuses=(403,),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        given = NightInput(data=request.data)
        given.is_valid(raise_exception=True)
        stored = register.open_night(by=self.viewer, **given.validated_data)
        reply = shown(nights.one(self.viewer, stored.key), status=201)
        reply["Location"] = absolute(request, "night", stored.key)
        return reply


class Night(Door):
    members_only = frozenset({"GET", "HEAD", "PATCH"})

    @operation(
        "night",
        "nights",
        "A night",
        "With who came, what was brought and found, its jig, its intakes, and its ETag.",
        shows=NightShown,
        example=examples.NIGHT,
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return shown(nights.one(self.viewer, id))

    @operation(
        "change_night",
        "nights",
        "Change a night",
        "Changes the fields that are sent, on the version that If-Match names. Tests keep what they were "
        "recorded with.",
        shows=NightShown,
        takes={"application/json": NightInput(partial=True)},
        sends={"calibrated": True},
        example=examples.NIGHT,
        refuses=(403, 404, 409, 412, 428),
        members_only=True,
        parameters=(IF_MATCH,),
    )
    def patch(self, request: Request, id: str) -> HttpResponseBase:
        current = nights.one(self.viewer, id)
        refused = entity_tags.refusal(request, entity_tags.tag(current.key, current.version))
        if refused is not None:
            return refused
        given = NightInput(data=request.data, partial=True)
        given.is_valid(raise_exception=True)
        try:
            register.change(by=self.viewer, night=id, version=current.version, **given.validated_data)
        except BenchnightError as error:
            if error.code == "night.stale":
                return entity_tags.stale()
            raise
        return shown(nights.one(self.viewer, id))


class NightJig(Door):
    parser_classes = (Multipart,)
    members_only = frozenset({"POST"})

    @operation(
        "set_jig",
        "nights",
        "Sweeps of a night's jig",
        "Replaces the jig's sweeps and answers what the jig is good for. Common-mode tests of the night that "
        "bring no jig sweep of their own are corrected with it; tests stored before keep theirs.",
        shows=JigFigures,
        takes={"multipart/form-data": JigForm},
        example=examples.JIG_FIGURES,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        nights.seen(self.viewer, id)  # who may not know of it learns nothing of the files either
        uploads.only_texts(request, ())
        figures = register.set_jig(by=self.viewer, night=id, uploads=uploads.files(request))
        return Response(JigFigures(figures).data)


def shown(night: NightRow, status: int = 200) -> Response:
    """A night with its entity tag."""
    headers = {"ETag": entity_tags.tag(night.key, night.version)}
    return Response(NightShown(night).data, status=status, headers=headers)
