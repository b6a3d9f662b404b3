"""Takes the multipart form of an intake apart: an archive, or a manifest and many sweeps."""

from __future__ import annotations

from dataclasses import dataclass

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from rest_framework.request import Request

from api import uploads
from measurements.errors import BenchnightError
from measurements.ingest import manifest
from measurements.ingest.uploads import Upload

FILES = ("archive", "manifest", "sweep")


@dataclass(frozen=True)
class Sent:
    """What came: either `archive`, or `sweeps` and perhaps a manifest's text."""

    archive: Upload | None
    sweeps: tuple[Upload, ...]
    manifest: str | None


def read(request: Request) -> Sent:
    """The form's parts. Raises BenchnightError for unknown or repeated fields and more bytes than allowed."""
    # the manifest may also come as a text
    texts = uploads.only_texts(request, () if "manifest" in request.FILES else ("manifest",))
    for name in request.FILES:
        if name not in FILES:
            raise BenchnightError(
                "field.unknown", f"There is no such file field; known: {', '.join(FILES)}.", field=name
            )
    archive, table = _single(request, "archive"), _single(request, "manifest")
    sweeps = request.FILES.getlist("sweep")
    if archive is not None and (sweeps or table or texts):
        raise BenchnightError(
            "intake.either", "Send either an archive or a manifest and sweeps, not both.", field="archive"
        )
    if archive is not None:
        most = settings.BENCHNIGHT_INTAKE_BODY_BYTES
        return Sent(uploads.read_file(archive, "archive", most), (), None)
    text = texts.get("manifest")
    if table is not None:
        text = manifest.decoded(uploads.read_file(table, "manifest", settings.BENCHNIGHT_SWEEP_BYTES).data)
    read = (uploads.read_file(file, "sweep", settings.BENCHNIGHT_SWEEP_BYTES) for file in sweeps)
    return Sent(None, tuple(read), text)


def _single(request: Request, name: str) -> UploadedFile | None:
    several = request.FILES.getlist(name)
    if len(several) > 1:
        raise BenchnightError("field.repeated", "Send one file in each field.", field=name)
    return several[0] if several else None
