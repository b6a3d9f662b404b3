"""Every error that leaves the door: one shape, RFC 9457 `application/problem+json`.

A problem never carries the text of an exception: only the sentences of a `BenchnightError`, which are
written for people, and the ones of this module.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Mapping, Sequence
from http import HTTPStatus
from typing import Any

from django.core import exceptions as django_errors
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpResponse, UnreadablePostError
from rest_framework import exceptions as rest_errors

from api.problem_fields import field_errors
from measurements.errors import BenchnightError, FieldError
from measurements.ingest import disk_room, request_limits, watch
from measurements.queries import viewers

logger = logging.getLogger(__name__)

KIND_STATUS = {
    "invalid": 400,
    "forbidden": 403,
    "not_found": 404,
    "conflict": 409,
    "too_large": 413,
    "too_many": 429,
}
WATCHED = frozenset({401, 403, 404, 413, 429})
BAD_TOKEN, NOT_THERE = "sign_in.bad_token", "request.not_found"
TITLES = {413: "Content Too Large"}  # RFC 9110; Python below 3.13 has its older name
BUSY_RETRY_S = 5

# exception -> status, code, sentence; the first that fits counts
SENTENCES: tuple[tuple[type[Exception] | tuple[type[Exception], ...], int, str, str], ...] = (
    ((Http404, rest_errors.NotFound), 404, NOT_THERE, "There is nothing at this address."),
    (
        rest_errors.AuthenticationFailed,
        401,
        BAD_TOKEN,
        "This token is unknown, expired or revoked. Make a new one; send it as: Authorization: Token <token>",
    ),
    (
        rest_errors.NotAuthenticated,
        401,
        "sign_in.required",
        "This address needs an access token. Send it as: Authorization: Token <token>",
    ),
    (
        (rest_errors.PermissionDenied, django_errors.PermissionDenied),
        403,
        "request.forbidden",
        "Your account may not do this.",
    ),
    (
        rest_errors.UnsupportedMediaType,
        415,
        "request.unsupported_media_type",
        "This address does not take a body of this type. See the API's description for the ones it takes.",
    ),
    (
        rest_errors.ParseError,
        400,
        "request.unreadable",
        "The body cannot be read as the type that it is declared to be.",
    ),
    (
        UnreadablePostError,
        400,
        "request.incomplete",
        "The request ended before it was complete. Send it again.",
    ),
    (django_errors.SuspiciousOperation, 400, "request.refused", "The request is malformed and was refused."),
)


class Problem(HttpResponse):
    """A reply for an error that still knows its code."""

    code: str


def problem(
    status: int,
    code: str,
    detail: str,
    errors: Sequence[FieldError] = (),
    headers: Mapping[str, str] | None = None,
) -> Problem:
    """The reply for an error. Without `errors` the list repeats the problem itself."""
    listed = [_as_json(error) for error in (errors or (FieldError(code, detail),))]
    body = {
        "type": "about:blank",
        "title": TITLES.get(status, HTTPStatus(status).phrase),
        "status": status,
        "detail": detail,
        "code": code,
        "errors": listed,
    }
    reply = Problem(
        json.dumps(body, ensure_ascii=False, allow_nan=False),
        status=status,
        content_type="application/problem+json",
        headers=dict(headers or {}),
    )
    reply.code = code
    return reply


def from_exception(exception: Exception, context: dict[str, Any]) -> Problem:
    """The reply for whatever a view raised; what may be an attempt is logged with its reason."""
    reply = _of(exception)
    request = context.get("request")
    if request is not None and reply.status_code in WATCHED and reply.code != NOT_THERE:
        _watch(request, reply)
    return reply


def _watch(request: Any, reply: Problem) -> None:
    address = request.META.get("REMOTE_ADDR", "")
    if reply.code == BAD_TOKEN:
        watch.turned_away(way="token", reason=reply.code, address=address)
        return
    watch.refused(
        method=request.method,
        path=request.path,
        reason=reply.code,
        account=viewers.of(request.user).name if reply.status_code != 401 else "",
        address=address,
    )


def _of(exception: Exception) -> Problem:
    """The reply for an exception; one that nobody foresaw is logged and is a 500."""
    if isinstance(exception, BenchnightError):
        return from_benchnight(exception)
    if isinstance(exception, rest_errors.ValidationError):
        errors = field_errors(exception.detail)
        return problem(400, "request.invalid", "Some fields need mending; see the list of errors.", errors)
    if isinstance(exception, rest_errors.MethodNotAllowed):
        return problem(405, "request.method", "This address does not take this method. See the Allow header.")
    if isinstance(exception, rest_errors.NotAcceptable):
        return not_acceptable(exception)
    if disk_room.is_used_up(exception):
        logger.error("There is no room left to store anything", exc_info=exception)
        return problem(
            503, "server.full", disk_room.SENTENCE, headers={"Retry-After": str(disk_room.RETRY_S)}
        )
    if isinstance(exception, InterfaceError | OperationalError):
        logger.exception("The database did not answer in time")
        return problem(
            503,
            "server.busy",
            "The database is busy. Try again shortly.",
            headers={"Retry-After": str(BUSY_RETRY_S)},
        )
    if isinstance(exception, request_limits.TOO_LARGE):
        return problem(413, "request.too_large", request_limits.sentence(exception))
    for kinds, status, code, detail in SENTENCES:
        if isinstance(exception, kinds):
            headers = {"WWW-Authenticate": "Token"} if status == 401 else None
            return problem(status, code, detail, headers=headers)
    logger.error("A request failed in a way that nobody foresaw", exc_info=exception)
    return problem(
        500, "server.failed", "Something went wrong on the server; it was logged. Your data is safe."
    )


def from_benchnight(error: BenchnightError, headers: Mapping[str, str] | None = None) -> Problem:
    """The reply for an error of the rooms below; its kind decides the status."""
    told = {} if error.wait_s is None else {"Retry-After": str(error.wait_s)}
    return problem(
        KIND_STATUS[error.kind], error.code, error.detail, error.errors, {**told, **(headers or {})}
    )


def not_acceptable(exception: rest_errors.NotAcceptable) -> Problem:
    """406 that names what is on offer."""
    offered = ", ".join(renderer.media_type for renderer in exception.available_renderers or ())
    return problem(
        406, "request.not_acceptable", f"This address answers with: {offered}. Ask for one of them."
    )


def _as_json(error: FieldError) -> dict[str, Any]:
    entry: dict[str, Any] = {"field": error.field, "code": error.code, "detail": error.detail}
    if error.line is not None:
        entry["line"] = error.line
    return entry
