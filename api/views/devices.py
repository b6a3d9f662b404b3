"""A member's devices."""

from __future__ import annotations

from django.http import HttpResponseBase
from drf_spectacular.utils import OpenApiParameter
from rest_framework.request import Request
from rest_framework.response import Response

from api import entity_tags, examples, replies
from api.addresses import absolute
from api.door import Door
from api.operations import TEXT, listed, operation
from api.paging import PageQuery
from api.renderers import TABLE
from api.serializers.devices import Device as DeviceShown
from api.serializers.devices import DeviceChange, DeviceRegistration
from measurements.errors import BenchnightError
from measurements.ingest import devices as register
from measurements.ingest import guests
from measurements.queries import devices
from measurements.queries.rows import DeviceRow

IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag of the version that the change is based on.",
)


class Devices(Door):
    renderer_classes = TABLE
    members_only = frozenset({"GET", "HEAD", "POST"})
    words = PageQuery

    @operation(
        "devices",
        "devices",
        "Your devices",
        "Your own devices, the newest first; an operator's own nights' as well, all of them for a steward.",
        shows=listed(DeviceShown, name="Devices"),
        media={"text/csv": TEXT, "application/x-ndjson": TEXT},
        words=PageQuery,
        example=examples.listed(examples.DEVICE),
        members_only=True,
    )
    def get(self, request: Request) -> Response:
        page = devices.listing(self.viewer, cursor=self.asked.get("cursor"), limit=self.asked["limit"])
        return replies.rows(request, DeviceShown, page)

    @operation(
        "register_device",
        "devices",
        "Register a device",
        "A device of yours, or of whoever brought it to a night that you run, under the tag written on it. "
        "The same tag of the same owner again is a conflict.",
        shows=DeviceShown,
        status=201,
        takes={"application/json": DeviceRegistration},
        sends=examples.DEVICE_INPUT,
        example=examples.DEVICE,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request) -> Response:
        given = DeviceRegistration(data=request.data)
        given.is_valid(raise_exception=True)
        fields = dict(given.validated_data)
        night, name = fields.pop("night", None), fields.pop("contributor", None)
        if night is not None:
            fields["contributor"] = (night, guests.welcome(by=self.viewer, night=night, name=name).key)
        stored = register.register(by=self.viewer, **fields)
        reply = shown(devices.one(self.viewer, stored.key), status=201)
        reply["Location"] = absolute(request, "device", stored.key)
        return reply


class Device(Door):
    members_only = frozenset({"GET", "HEAD", "PATCH"})

    @operation(
        "device",
        "devices",
        "A device",
        "With its ETag, which a change has to send back.",
        shows=DeviceShown,
        example=examples.DEVICE,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return shown(devices.one(self.viewer, id))

    @operation(
        "change_device",
        "devices",
        "Change a device",
        "Changes the fields that are sent. If-Match carries the ETag of the version it is based on; a stale "
        "one is refused, so that two changes at once do not undo each other.",
        shows=DeviceShown,
        takes={"application/json": DeviceChange(partial=True)},
        sends={"notes": "rewound"},
        example=examples.DEVICE,
        refuses=(404, 409, 412, 428),
        members_only=True,
        parameters=(IF_MATCH,),
    )
    def patch(self, request: Request, id: str) -> HttpResponseBase:
        current = devices.one(self.viewer, id)
        refused = entity_tags.refusal(request, entity_tags.tag(current.key, current.version))
        if refused is not None:
            return refused
        given = DeviceChange(data=request.data, partial=True)
        given.is_valid(raise_exception=True)
        try:
            register.change(by=self.viewer, device=id, version=current.version, **given.validated_data)
        except BenchnightError as error:
            if error.code == "device.stale":
                return entity_tags.stale()
            raise
        return shown(devices.one(self.viewer, id))


def shown(device: DeviceRow, status: int = 200) -> Response:
    """A device with its entity tag."""
    headers = {"ETag": entity_tags.tag(device.key, device.version)}
    return Response(DeviceShown(device).data, status=status, headers=headers)
