"""Intakes: many files of a night at once, and how far they have come."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from rest_framework.request import Request
from rest_framework.response import Response

from api.http import parsers
from api.http.parsers import Multipart
from api.http.replies import build_absolute_address
from api.http.views import ResourceView
from api.schema import night_examples
from api.schema.operations import describe_operation
from api.serializers.nights import Intake as IntakeShown
from api.serializers.nights import IntakeAnswerInput, IntakeForm
from measurements.errors import BenchnightError
from measurements.selectors.intakes import intakes as intakes_selectors
from measurements.selectors.nights import nights
from measurements.services.intakes import answers, manifests
from measurements.services.intakes import intakes as intakes_services
from measurements.services.uploads.uploads import Upload

# Takes the multipart form of an intake apart: an archive, or a manifest and many sweeps.

FILE_FIELDS = ("archive", "manifest", "sweep")


@dataclass(frozen=True)
class IntakeParts:
    """What came: either `archive`, or `sweeps` and perhaps a manifest's text. words: other text fields."""

    archive: Upload | None
    sweeps: tuple[Upload, ...]
    manifest: str | None
    words: Mapping[str, str] = field(default_factory=dict)


def read_intake_form(request: Request, words: tuple[str, ...] = ()) -> IntakeParts:
    """Read the form's parts. words: text fields that it may have besides.

    Raises BenchnightError for unknown or repeated fields and more bytes than allowed.
    """
    # the manifest may also come as a text
    known = words if "manifest" in request.FILES else ("manifest", *words)
    given = parsers.read_texts(request, known)
    texts = {name: given.pop(name) for name in ("manifest",) if name in given}
    for name in request.FILES:
        if name not in FILE_FIELDS:
            raise BenchnightError(
                "field.unknown", f"There is no such file field; known: {', '.join(FILE_FIELDS)}.", field=name
            )
    archive, table = _find_single_file(request, "archive"), _find_single_file(request, "manifest")
    sweeps = request.FILES.getlist("sweep")
    if archive is not None and (sweeps or table or texts):
        raise BenchnightError(
            "intake.either", "Send either an archive or a manifest and sweeps, not both.", field="archive"
        )
    if archive is not None:
        most = settings.BENCHNIGHT_INTAKE_BODY_BYTES
        return IntakeParts(parsers.read_file(archive, "archive", most), (), None, given)
    text = texts.get("manifest")
    if table is not None:
        text = manifests.decode_manifest(
            parsers.read_file(table, "manifest", settings.BENCHNIGHT_SWEEP_BYTES).data
        )
    read = (parsers.read_file(file, "sweep", settings.BENCHNIGHT_SWEEP_BYTES) for file in sweeps)
    return IntakeParts(None, tuple(read), text, given)


def _find_single_file(request: Request, name: str) -> UploadedFile | None:
    several = request.FILES.getlist(name)
    if len(several) > 1:
        raise BenchnightError("field.repeated", "Send one file in each field.", field=name)
    return several[0] if several else None


class NightIntakeView(ResourceView):
    parser_classes = (Multipart,)
    members_only = frozenset({"POST"})

    @describe_operation(
        "take_in",
        "nights",
        "Hand in many files",
        "Stores every file and answers at once; a worker turns them into tests, those of one tag, owner, "
        "kind and method into one. Watch the intake. The same files again end as `already_there`. These "
        "uploads count against no hourly limit.",
        shows=IntakeShown,
        status=202,
        takes={"multipart/form-data": IntakeForm},
        example=night_examples.INTAKE,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        nights.get_night_record(self.viewer, id)  # who may not know of it learns nothing of the files either
        sent = read_intake_form(request)
        if sent.archive is not None:
            stored = intakes_services.begin_zip_intake(by=self.viewer, night=id, archive=sent.archive)
        else:
            stored = intakes_services.begin_intake(
                by=self.viewer, night=id, files=sent.sweeps, manifest=sent.manifest
            )
        data = IntakeShown.represent(intakes_selectors.get_intake(self.viewer, stored.key))
        where = build_absolute_address(request, "intake", stored.key)
        return Response(data, status=202, headers={"Location": where})


class IntakeView(ResourceView):
    members_only = frozenset({"GET", "HEAD"})

    @describe_operation(
        "intake",
        "nights",
        "An intake",
        "How far it has come, with a line per file: waiting, stored, already there, or refused and why.",
        shows=IntakeShown,
        example=night_examples.INTAKE,
        refuses=(403, 404),
        members_only=True,
    )
    def get(self, request: Request, id: str) -> Response:
        return Response(IntakeShown.represent(intakes_selectors.get_intake(self.viewer, id)))


class IntakeAnswersView(ResourceView):
    members_only = frozenset({"POST"})

    @describe_operation(
        "answer_intake",
        "nights",
        "Answer a question of an intake",
        "One answer for all files that wait for it, named by `group` of their `question`. The files go on at "
        "once; watch the intake. An answer may raise the next question.",
        shows=IntakeShown,
        takes={"application/json": IntakeAnswerInput},
        sends=night_examples.INTAKE_ANSWER,
        example=night_examples.INTAKE,
        refuses=(403, 404, 409),
        members_only=True,
    )
    def post(self, request: Request, id: str) -> Response:
        given = IntakeAnswerInput(data=request.data)
        given.is_valid(raise_exception=True)
        more = dict(given.validated_data)
        group, answer = more.pop("group"), more.pop("answer")
        answers.answer_question(by=self.viewer, intake=id, group=group, answer=answer, given=more)
        return Response(IntakeShown.represent(intakes_selectors.get_intake(self.viewer, id)))
