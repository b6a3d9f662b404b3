"""Designs that a member watches."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api.http import replies
from api.http.renderers import TABLE_RENDERERS
from api.http.views import ResourceView
from api.schema import picture_examples
from api.schema.examples import make_list
from api.schema.operations import TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.pictures import WatchedDesign
from measurements.selectors.designs import watched
from measurements.services.designs import watching


class WatchedDesignsView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "watched_designs",
        "designs",
        "Designs that you watch",
        "The newest first. The private feed says when a release changes one of their verdicts.",
        shows=make_list_serializer(WatchedDesign, name="WatchedDesigns", pages=False),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        example=make_list(picture_examples.WATCHED),
        members_only=True,
    )
    def get(self, request: Request) -> Response:
        return replies.render_rows(request, WatchedDesign, watched.list_watched_designs(self.viewer))


class DesignWatchView(ResourceView):
    members_only = frozenset({"POST", "DELETE"})

    @describe_operation(
        "watch_design",
        "designs",
        "Watch a design",
        "From the next release on. Once more changes nothing.",
        shows=None,
        status=204,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        watching.watch_design(by=self.viewer, design=id)
        return Response(status=204)

    @describe_operation(
        "stop_watching_design",
        "designs",
        "Stop watching a design",
        "One that you do not watch stays so.",
        shows=None,
        status=204,
        refuses=(403, 404),
        members_only=True,
    )
    def delete(self, request: Request, id: str) -> Response:
        watching.stop_watching_design(by=self.viewer, design=id)
        return Response(status=204)
