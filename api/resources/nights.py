"""Club nights, for those who run them: opened, read, changed, and their jig's sweeps."""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers, replies, representation
from api.http.paging import PageQuery
from api.http.parsers import Multipart
from api.http.renderers import TABLE_RENDERERS
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import night_examples
from api.schema.examples import make_list as example_list
from api.schema.operations import IF_MATCH, TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.nights import JigFigures, JigForm, NightInput, NightListed
from api.serializers.nights import Night as NightShown
from measurements.errors import BenchnightError
from measurements.selectors.nights import nights as nights_selectors
from measurements.selectors.nights.rows import NightRow
from measurements.selectors.paging import Page
from measurements.services.nights import nights as nights_services


class NightsView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    members_only = frozenset({"GET", "HEAD", "POST"})
    words = PageQuery

    @describe_operation(
        "nights",
        "nights",
        "Club nights",
        "The nights that you run, the last opened first; all of the group's for a steward.",
        shows=make_list_serializer(NightListed, name="Nights"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=PageQuery,
        example=example_list(night_examples.NIGHT_LISTED),
        refuses=(403,),
        members_only=True,
    )
    def get(self, request: Request) -> HttpResponseBase:
        def fetch(cursor: str | None, limit: int) -> Page[NightRow]:
            return nights_selectors.list_nights(self.viewer, cursor=cursor, limit=limit)

        return replies.render_list(request, NightListed, self.asked, fetch)

    @describe_operation(
        "open_night",
        "nights",
        "Open a night",
        "Operators open a night and run it; only they and stewards know of it.",
        shows=NightShown,
        status=201,
        takes={"application/json": NightInput},
        sends=night_examples.NIGHT_INPUT,
        example=night_examples.NIGHT,
        refuses=(403,),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        given = NightInput(data=request.data)
        given.is_valid(raise_exception=True)
        stored = nights_services.open_night(by=self.viewer, **given.validated_data)
        reply = render_night(nights_selectors.get_night(self.viewer, stored.key), status=201)
        reply["Location"] = build_absolute_address(request, "night", stored.key)
        return reply


class NightView(ResourceView):
    members_only = frozenset({"GET", "HEAD", "PATCH"})

    @describe_operation(
        "night",
        "nights",
        "A night",
        "With who came, what was brought and found, its jig, its intakes, and its ETag.",
        shows=NightShown,
        example=night_examples.NIGHT,
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return render_night(nights_selectors.get_night(self.viewer, id))

    @describe_operation(
        "change_night",
        "nights",
        "Change a night",
        "Changes the fields that are sent, on the version that If-Match names. Tests keep what they were "
        "recorded with.",
        shows=NightShown,
        takes={"application/json": NightInput(partial=True)},
        sends={"calibrated": True},
        example=night_examples.NIGHT,
        refuses=(403, 404, 409, 412, 428),
        members_only=True,
        parameters=(IF_MATCH,),
    )
    def patch(self, request: Request, id: str) -> HttpResponseBase:
        current = nights_selectors.get_night(self.viewer, id)
        refused = representation.find_precondition_problem(
            request, representation.make_etag(current.key, current.version)
        )
        if refused is not None:
            return refused
        given = NightInput(data=request.data, partial=True)
        given.is_valid(raise_exception=True)
        try:
            nights_services.update_night(
                by=self.viewer, night=id, version=current.version, **given.validated_data
            )
        except BenchnightError as error:
            if error.code == "night.stale":
                return representation.make_stale_problem()
            raise
        return render_night(nights_selectors.get_night(self.viewer, id))


class NightJigView(ResourceView):
    parser_classes = (Multipart,)
    members_only = frozenset({"POST"})

    @describe_operation(
        "set_jig",
        "nights",
        "Sweeps of a night's jig",
        "Replaces the jig's sweeps and answers what the jig is good for. Common-mode tests of the night that "
        "bring no jig sweep of their own are corrected with it; tests stored before keep theirs.",
        shows=JigFigures,
        takes={"multipart/form-data": JigForm},
        example=night_examples.JIG_FIGURES,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        nights_selectors.get_night_record(
            self.viewer, id
        )  # who may not know of it learns nothing of the files either
        parsers.read_texts(request, ())
        figures = nights_services.set_night_jig(by=self.viewer, night=id, uploads=parsers.read_files(request))
        return Response(JigFigures.represent(figures))


def render_night(night: NightRow, status: int = 200) -> Response:
    """Return a night with its entity tag."""
    headers = {"ETag": representation.make_etag(night.key, night.version)}
    return Response(NightShown.represent(night), status=status, headers=headers)
