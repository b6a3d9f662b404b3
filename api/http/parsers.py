"""Bodies: strict JSON, and multipart whose files are limited where they are read."""

from __future__ import annotations

import json
from collections.abc import Iterable
from typing import IO, Any

from django.conf import settings
from django.core.files.uploadedfile import UploadedFile
from django.http import QueryDict
from rest_framework.exceptions import ParseError
from rest_framework.parsers import JSONParser, MultiPartParser
from rest_framework.request import Request

from api.http import digests
from measurements.errors import BenchnightError, FieldError
from measurements.services.uploads import uploads
from measurements.services.uploads.uploads import SETTING_NAMES, Upload


class StrictJson(JSONParser):
    """UTF-8 JSON without NaN, infinities or repeated names.

    The framework reads the body through `request.body`, where the size limit stands, because this is
    a JSONParser.
    """

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: dict[str, Any] | None = None
    ) -> Any:
        body = digests.hash_while_reading((parser_context or {})["request"], stream)
        try:
            return json.loads(
                body.read().decode("utf-8"),
                parse_constant=_refuse_constant,
                object_pairs_hook=_refuse_repeats,
            )
        except (ValueError, RecursionError) as error:  # UnicodeDecodeError is a ValueError
            raise ParseError from error


class Multipart(MultiPartParser):
    """Multipart form data; see `uploads.read` for the limits of its files."""

    def parse(
        self, stream: IO[bytes], media_type: str | None = None, parser_context: dict[str, Any] | None = None
    ) -> Any:
        """Read the form through the hash of a Content-Digest, where one came with it."""
        context = parser_context or {}
        body = digests.hash_while_reading(context["request"], stream)
        return super().parse(body, media_type, context)


def _refuse_constant(_constant: str) -> Any:
    raise ValueError


def _refuse_repeats(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    made = dict(pairs)
    if len(made) != len(pairs):
        raise ValueError
    return made


# Takes a multipart form apart: settings as texts, files as bytes, each limited where it is read.

MEBIBYTE = 1024 * 1024


def read_setting_texts(request: Request, names: Iterable[str] = ()) -> dict[str, str]:
    """Return the text fields of the form: the settings of a test, and `names`.

    Raises BenchnightError naming each field that is unknown, given twice, or a file.
    """
    return read_texts(request, (*SETTING_NAMES, *names))


def read_texts(request: Request, known: tuple[str, ...]) -> dict[str, str]:
    """Return the text fields of a form that knows only these. Raises as `texts`."""
    data = request.data
    if not isinstance(data, QueryDict):
        return {}
    given = [name for name in data if name not in request.FILES]
    faults = [fault for name in given if (fault := _find_text_fault(data, name, known))]
    faults += [_file_fault(name) for name in request.FILES if name in known]
    if faults:
        raise BenchnightError(
            "request.invalid", "Some fields need mending; see the list.", errors=tuple(faults)
        )
    return {name: data[name] for name in given}


def read_files(request: Request) -> dict[str, Upload]:
    """Return the files of the form by role.

    Raises BenchnightError for an unknown role, a role given twice, or more bytes than the limits allow.
    """
    found: dict[str, Upload] = {}
    for role in request.FILES:
        several = request.FILES.getlist(role)
        if len(several) > 1:
            raise BenchnightError("field.repeated", "Send one file in each field.", field=role)
        found[role] = Upload(several[0].name or "unnamed", b"")
    uploads.check_upload_roles(found)
    left_bytes = settings.BENCHNIGHT_BODY_BYTES
    for role, upload in found.items():
        data = _read_limited(request.FILES[role], role, min(settings.BENCHNIGHT_SWEEP_BYTES, left_bytes))
        left_bytes -= len(data)
        found[role] = Upload(upload.name, data)
    return found


def read_file(file: UploadedFile, field: str, limit_bytes: int) -> Upload:
    """Return a file of at most so many bytes. Raises BenchnightError `sweep.too_large`."""
    return Upload(file.name or "unnamed", _read_limited(file, field, limit_bytes))


def _read_limited(file: UploadedFile, role: str, limit_bytes: int) -> bytes:
    data: bytes = file.read(limit_bytes + 1)
    if len(data) > limit_bytes:
        raise BenchnightError(
            "sweep.too_large",
            f"A file may have {settings.BENCHNIGHT_SWEEP_BYTES / MEBIBYTE:g} MiB, and all files of a request "
            f"{settings.BENCHNIGHT_BODY_BYTES / MEBIBYTE:g} MiB. Sweep with fewer points.",
            kind="too_large",
            field=role,
        )
    return data


def _find_text_fault(data: QueryDict, name: str, known: tuple[str, ...]) -> FieldError | None:
    if name not in known:
        return FieldError("field.unknown", f"There is no such text field; known: {', '.join(known)}.", name)
    if len(data.getlist(name)) > 1:
        return FieldError("field.repeated", "Give this once.", name)
    return None


def _file_fault(name: str) -> FieldError:
    return FieldError("field.not_a_file", "Send this as a text, not as a file.", name)


def require_text(given: dict[str, str], name: str, what: str) -> str:
    """Return a text field that must be there. Raises BenchnightError `field.required`."""
    value: Any = given.get(name, "").strip()
    if not value:
        raise BenchnightError("field.required", f"Give {what}.", field=name)
    return str(value)
