"""Intakes: many files of a night at once, and how far they have come."""

from __future__ import annotations

from rest_framework.request import Request
from rest_framework.response import Response

from api import examples_of_nights as examples
from api import intake_form
from api.addresses import absolute
from api.door import Door
from api.operations import operation
from api.parsers import Multipart
from api.serializers.nights import Intake as IntakeShown
from api.serializers.nights import IntakeForm
from measurements.ingest import intakes as register
from measurements.queries import intakes, nights


class NightIntake(Door):
    parser_classes = (Multipart,)
    members_only = frozenset({"POST"})

    @operation(
        "take_in",
        "nights",
        "Hand in many files",
        "Stores every file and answers at once; a worker turns them into tests, those of one tag, owner, "
        "kind and method into one. Watch the intake. The same files again end as `already_there`. These "
        "uploads count against no hourly limit.",
        shows=IntakeShown,
        status=202,
        takes={"multipart/form-data": IntakeForm},
        example=examples.INTAKE,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        nights.seen(self.viewer, id)  # who may not know of it learns nothing of the files either
        sent = intake_form.read(request)
        if sent.archive is not None:
            stored = register.begin_zip(by=self.viewer, night=id, archive=sent.archive)
        else:
            stored = register.begin(by=self.viewer, night=id, files=sent.sweeps, manifest=sent.manifest)
        data = IntakeShown(intakes.one(self.viewer, stored.key)).data
        where = absolute(request, "intake", stored.key)
        return Response(data, status=202, headers={"Location": where})


class Intake(Door):
    members_only = frozenset({"GET", "HEAD"})

    @operation(
        "intake",
        "nights",
        "An intake",
        "How far it has come, with a line per file: waiting, stored, already there, or refused and why.",
        shows=IntakeShown,
        example=examples.INTAKE,
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(IntakeShown(intakes.one(self.viewer, id)).data)
