"""What keeps a device in service: its inspections and its state."""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import replies
from api.http.paging import PageQuery
from api.http.renderers import TABLE_RENDERERS
from api.http.views import ResourceView
from api.schema import examples
from api.schema.examples import make_list as example_of_list
from api.schema.operations import TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.upkeep import Inspection as InspectionShown
from api.serializers.upkeep import InspectionInput, Service
from measurements.selectors.paging import Page
from measurements.selectors.upkeep import inspections as inspections_selectors
from measurements.selectors.upkeep import service_states
from measurements.selectors.upkeep.rows import InspectionRow
from measurements.services.upkeep import inspections as inspections_services


class InspectionsView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    members_only = frozenset({"GET", "HEAD", "POST"})
    words = PageQuery

    @describe_operation(
        "inspections",
        "devices",
        "Inspections of a device",
        "The last recorded first.",
        shows=make_list_serializer(InspectionShown, name="Inspections"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=PageQuery,
        example=example_of_list(examples.INSPECTION),
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> HttpResponseBase:
        def fetch(cursor: str | None, limit: int) -> Page[InspectionRow]:
            return inspections_selectors.list_inspections(self.viewer, id, cursor=cursor, limit=limit)

        return replies.render_list(request, InspectionShown, self.asked, fetch)

    @describe_operation(
        "record_inspection",
        "devices",
        "Record an inspection",
        "How a device looked, item by item. The same one sent again, as after a bad connection, answers 200 "
        "with the one already stored. A later inspection clears a mark as due.",
        shows=InspectionShown,
        status=201,
        also={200: InspectionShown},
        takes={"application/json": InspectionInput},
        sends=examples.INSPECTION_INPUT,
        example=examples.INSPECTION,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        given = InspectionInput(data=request.data)
        given.is_valid(raise_exception=True)
        stored = inspections_services.record_inspection(by=self.viewer, device=id, **given.validated_data)
        data = InspectionShown.represent(inspections_selectors.get_inspection(self.viewer, stored.key))
        return Response(data, status=201 if stored.created else 200)


class DeviceServiceView(ResourceView):
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "device_service",
        "devices",
        "Service state of a device",
        "What its own newest tests, inspections and age support, with reasons, figures, limits and the next "
        "step; its change since commissioning. No power rating is inferred from it.",
        shows=Service,
        example=examples.SERVICE,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(Service.represent(service_states.get_service_state(self.viewer, id)))
