"""Idempotency-Key: a POST that is repeated after a bad connection is done once.

The first request reserves its key, works and completes the row in one transaction, so that a crash leaves
either both or neither. A repetition gets the first one's status with the thing as it stands now: a copy of
the first reply would outlive a withdrawal. Only where a reply leads to no address is its text kept.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Callable, Iterator, Mapping
from datetime import timedelta
from typing import Any
from urllib.parse import urlsplit

from django.db import IntegrityError, transaction
from django.http import HttpResponse, HttpResponseBase, QueryDict
from django.urls import resolve
from django.utils import timezone
from drf_spectacular.utils import OpenApiParameter
from rest_framework.exceptions import APIException
from rest_framework.request import Request
from rest_framework.response import Response

from api.http.problems import convert_exception, make_problem
from api.http.renderers import Json
from api.models import KeptReply
from measurements.errors import BenchnightError

# The Idempotency-Key header: a text of its client's choice, such as a UUID, in quotes or without.

KEY_HEADER = "Idempotency-Key"

_KEY = re.compile(r'^(?:"(?P<quoted>[\x20\x21\x23-\x5b\x5d-\x7e]{1,255})"|(?P<bare>[\x21\x23-\x7e]{1,255}))$')

KEY_PARAMETER = OpenApiParameter(
    KEY_HEADER,
    {"type": "string", "minLength": 1, "maxLength": 255, "pattern": "^[!#-~]+$"},
    OpenApiParameter.HEADER,
    description="Any text that is new for each request, such as a UUID. The same request with the same key, "
    "within 24 hours, is done once: the repetition gets the first status, and what was stored.",
)


def parse_key(headers: Mapping[str, str]) -> str | None:
    """Return the key, None where there is none. Raises BenchnightError `idempotency.key`."""
    given = headers.get(KEY_HEADER)
    if given is None:
        return None
    found = _KEY.match(given.strip())
    if found is None:
        raise BenchnightError(
            "idempotency.key",
            "Send 1 to 255 printable characters without blanks as Idempotency-Key, such as a UUID.",
            field=KEY_HEADER,
        )
    return found["quoted"] or found["bare"]


KEEP_FOR = timedelta(hours=24)

# the server ends a request after two minutes (deploy/server.py): one that began before that is dead
ABANDONED_AFTER = timedelta(minutes=3)

RETRY_S = 2

_PIECE = 64 * 1024

Handler = Callable[..., HttpResponseBase]


def make_idempotent(door: Any, handler: Handler) -> Handler:
    """Return the handler of a POST, done once per key of its account; without the header as it is.

    Raises BenchnightError `idempotency.key` for a key that is none.
    """
    key = parse_key(door.request.headers)
    if key is None:
        return handler

    def kept(request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        content = _content_sha256(request)  # reads the body before any lock is held
        place = _sha256([request.path, key])
        member = door.viewer.member_id
        delete_expired_replies()
        mine = _reserve_key(member, place, content)
        if mine is not None:
            return _run_and_complete(mine, handler, request, *args, **kwargs)
        row = KeptReply.objects.filter(member=member, place_sha256=place).first()
        if row is not None and row.request_sha256 != content:
            return make_problem(
                422,
                "idempotency.key_reused",
                "This Idempotency-Key came with another content before. Take a new key for a new request.",
            )
        if row is None or row.status is None:
            return _in_progress_problem()
        return _repeat_reply(row, door, request)

    return kept


def _reserve_key(member: int, place: str, content: str) -> KeptReply | None:
    """Return a row that is ours to complete; None where another request has it.

    One that was abandoned (the server was killed) is taken over by a conditional UPDATE.
    """
    now = timezone.now()
    try:
        with transaction.atomic():
            return KeptReply.objects.create(
                member_id=member, place_sha256=place, request_sha256=content, begun_at=now
            )
    except IntegrityError:
        dead = KeptReply.objects.filter(
            member=member,
            place_sha256=place,
            request_sha256=content,
            status=None,
            begun_at__lt=now - ABANDONED_AFTER,
        )
        return KeptReply.objects.get(member=member, place_sha256=place) if dead.update(begun_at=now) else None


def _run_and_complete(
    mine: KeptReply, handler: Handler, request: Request, *args: Any, **kwargs: Any
) -> HttpResponseBase:
    """Do the work and complete the row in one transaction; a refusal frees the key again."""
    held = KeptReply.objects.filter(pk=mine.pk, begun_at=mine.begun_at, status=None)
    try:
        with transaction.atomic():
            response = _run_handler(handler, request, *args, **kwargs)
            if response.status_code >= 300:
                held.delete()
            elif not held.update(**_kept_of(response)):
                transaction.set_rollback(True)  # we were so slow that a repetition took over
                response = _in_progress_problem()
    except BaseException:
        held.delete()
        raise
    return response


def _run_handler(handler: Handler, request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
    """Return a refusal becomes a reply here, so that what it counted (uploads an hour) stays counted."""
    try:
        return handler(request, *args, **kwargs)
    except (BenchnightError, APIException) as error:
        return convert_exception(error, {"request": request})


def _kept_of(response: HttpResponseBase) -> dict[str, Any]:
    if response.has_header("Location"):
        return {"status": response.status_code, "location": urlsplit(response["Location"]).path}
    data = response.data if isinstance(response, Response) else None
    return {
        "status": response.status_code,
        "body": "" if data is None else Json().render(data).decode("utf-8"),
    }


def _repeat_reply(row: KeptReply, door: Any, request: Request) -> HttpResponseBase:
    """Return the first request's status, and what it stored as its reader sees it now."""
    if not row.location:
        return HttpResponse(row.body, status=row.status, content_type="application/json")
    where = resolve(row.location)
    view = where.func.cls(**where.func.initkwargs)
    view.request, view.viewer = request, door.viewer
    words = view.words(data=QueryDict(""))
    words.is_valid(raise_exception=True)
    view.asked = dict(words.validated_data)
    response: HttpResponseBase = view.get(request, *where.args, **where.kwargs)
    response.status_code = row.status
    response["Location"] = request.build_absolute_uri(row.location)
    return response


def delete_expired_replies() -> int:
    """Remove replies past their time; answers how many."""
    return KeptReply.objects.filter(begun_at__lt=timezone.now() - KEEP_FOR).delete()[0]


def _in_progress_problem() -> HttpResponse:
    return make_problem(
        409,
        "idempotency.in_progress",
        "The first request with this Idempotency-Key is still at work. Send it again shortly.",
        headers={"Retry-After": str(RETRY_S)},
    )


def _content_sha256(request: Request) -> str:
    """Hash fields, and files by name and content, not the form's boundary: equal hashes are one request."""
    data = request.data
    if isinstance(data, QueryDict):
        texts = sorted((name, data.getlist(name)) for name in data if name not in request.FILES)
        return _sha256(["form", texts, sorted(_hash_files(request.FILES))])
    return _sha256(["json", data])


def _hash_files(files: Mapping[str, Any]) -> Iterator[list[str]]:
    for role in files:
        for file in files.getlist(role):  # type: ignore[attr-defined]
            digest = hashlib.sha256()
            for piece in file.chunks(_PIECE):
                digest.update(piece)
            file.seek(0)
            yield [role, file.name or "", digest.hexdigest()]


def _sha256(parts: list[Any]) -> str:
    return hashlib.sha256(json.dumps(parts, sort_keys=True).encode()).hexdigest()
