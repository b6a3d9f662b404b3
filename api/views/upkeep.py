"""What keeps a device in service: its inspections and its state."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api import examples_of_upkeep as examples
from api import replies
from api.door import Door
from api.examples import listed as example_of_list
from api.operations import TEXT, listed, operation
from api.paging import PageQuery
from api.renderers import TABLE
from api.serializers.upkeep import Inspection as InspectionShown
from api.serializers.upkeep import InspectionInput, Service
from measurements.ingest import inspections as register
from measurements.queries import inspections, service


class Inspections(Door):
    renderer_classes = TABLE
    members_only = frozenset({"GET", "HEAD", "POST"})
    words = PageQuery

    @operation(
        "inspections",
        "devices",
        "Inspections of a device",
        "The last recorded first.",
        shows=listed(InspectionShown, name="Inspections"),
        media={"text/csv": TEXT, "application/x-ndjson": TEXT},
        words=PageQuery,
        example=example_of_list(examples.INSPECTION),
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        page = inspections.listing(
            self.viewer, id, cursor=self.asked.get("cursor"), limit=self.asked["limit"]
        )
        return replies.rows(request, InspectionShown, page)

    @operation(
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
        stored = register.record(by=self.viewer, device=id, **given.validated_data)
        data = InspectionShown(inspections.one(self.viewer, stored.key)).data
        return Response(data, status=201 if stored.created else 200)


class DeviceService(Door):
    members_only = frozenset({"GET", "HEAD"})

    @operation(
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
        return Response(Service(service.state_of(self.viewer, id)).data)
