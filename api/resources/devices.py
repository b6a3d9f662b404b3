"""A member's devices."""

from __future__ import annotations

from collections.abc import Mapping
from functools import partial
from typing import Any

from django.http import HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import replies, representation
from api.http.renderers import TABLE_RENDERERS
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import examples
from api.schema.operations import IF_MATCH, TEXT_SCHEMA, describe_operation, make_list_serializer
from api.serializers.devices import Device as DeviceShown
from api.serializers.devices import DeviceChange, DeviceRegistration, DevicesQuery
from api.serializers.devices import ListedDevice as ListedDeviceShown
from measurements.errors import BenchnightError
from measurements.selectors.devices import devices as devices_selectors
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.paging import Page
from measurements.selectors.upkeep import kept_states, listed_devices
from measurements.selectors.upkeep.device_filters import DueFilter
from measurements.selectors.upkeep.listed_devices import ListedDevice
from measurements.services.devices import devices as devices_services
from measurements.services.nights import guests
from measurements.services.upkeep import state_keeping

MOST_STEPS = 10  # of 100 devices each; the server judges the others within a minute


class DevicesView(ResourceView):
    renderer_classes = TABLE_RENDERERS
    members_only = frozenset({"GET", "HEAD", "POST"})
    words = DevicesQuery

    @describe_operation(
        "devices",
        "devices",
        "Your devices",
        "Your own devices, the newest first; all of the group's for a steward. Each with its service state: "
        "`?state=overdue` answers what is overdue.",
        shows=make_list_serializer(ListedDeviceShown, name="Devices"),
        media={"text/csv": TEXT_SCHEMA, "application/x-ndjson": TEXT_SCHEMA},
        words=DevicesQuery,
        example=examples.make_list(examples.LISTED_DEVICE),
        members_only=True,
    )
    def get(self, request: Request) -> HttpResponseBase:
        wanted = _read_filter(self.asked)
        if kept_states.has_waiting_devices(self.viewer):
            judge = partial(kept_states.judge_waiting_devices, self.viewer)
            state_keeping.keep_waiting_states(judge, most_steps=MOST_STEPS)

        def fetch(cursor: str | None, limit: int) -> Page[ListedDevice]:
            return listed_devices.list_devices(self.viewer, wanted, cursor=cursor, limit=limit)

        return replies.render_list(request, ListedDeviceShown, self.asked, fetch)

    @describe_operation(
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
        same = fields.pop("same_person", None)
        if night is not None:
            person = guests.add_attendee(by=self.viewer, night=night, name=name, same_person=same)
            fields["contributor"] = (night, person.key)
        stored = devices_services.register_device(by=self.viewer, **fields)
        reply = render_device(devices_selectors.get_device_on_bench(self.viewer, stored.key), status=201)
        reply["Location"] = build_absolute_address(request, "device", stored.key)
        return reply


class DeviceView(ResourceView):
    members_only = frozenset({"GET", "HEAD", "PATCH"})

    @describe_operation(
        "device",
        "devices",
        "A device",
        "With its ETag, which a change has to send back. Operators who have it on their bench read its tag, "
        "origin and design alone.",
        shows=DeviceShown,
        example=examples.DEVICE,
        refuses=(404,),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return render_device(devices_selectors.get_device_on_bench(self.viewer, id))

    @describe_operation(
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
        current = devices_selectors.get_device(self.viewer, id)
        refused = representation.find_precondition_problem(
            request, representation.make_etag(current.key, current.version)
        )
        if refused is not None:
            return refused
        given = DeviceChange(data=request.data, partial=True)
        given.is_valid(raise_exception=True)
        try:
            devices_services.update_device(
                by=self.viewer, device=id, version=current.version, **given.validated_data
            )
        except BenchnightError as error:
            if error.code == "device.stale":
                return representation.make_stale_problem()
            raise
        return render_device(devices_selectors.get_device(self.viewer, id))


def render_device(device: DeviceRow, status: int = 200) -> Response:
    """Return a device with its entity tag."""
    headers = {"ETag": representation.make_etag(device.key, device.version)}
    return Response(DeviceShown.represent(device), status=status, headers=headers)


def _read_filter(asked: Mapping[str, Any]) -> DueFilter:
    return DueFilter(
        text=asked.get("q", ""),
        state=asked.get("state", ""),
        owner=asked.get("owner", ""),
        place=asked.get("place"),
        due_before=asked.get("due_before"),
        retired=not asked.get("in_service", False),
    )
