"""Every error that leaves the door: one shape, RFC 9457 `application/problem+json`.

A problem never carries the text of an exception: only the sentences of a `BenchnightError`, which are
written for people, and the ones of this module.
"""

from __future__ import annotations

import json
import logging
from collections.abc import Iterator, Mapping, Sequence
from http import HTTPStatus
from itertools import islice
from typing import Any

from django.core import exceptions as django_errors
from django.db import InterfaceError, OperationalError
from django.http import Http404, HttpResponse, UnreadablePostError
from rest_framework import exceptions as rest_errors
from rest_framework.exceptions import ErrorDetail
from rest_framework.settings import api_settings

from api.http.authentication import SCHEMES, UnknownScheme
from measurements.errors import MOST_ERRORS, BenchnightError, FieldError, describe_unlisted
from measurements.selectors.accounts import viewers
from measurements.services.accounts import security_log
from measurements.services.operations import disk_room
from measurements.services.uploads import size_limits

# Turns the nested faults of an input serializer into the flat list of a problem.


MOST_COUNTED = 1000
MOST_FIELD_CHARACTERS, MOST_DETAIL_CHARACTERS = 120, 590  # a name that was sent comes back in its error


def list_field_errors(detail: Any) -> tuple[FieldError, ...]:
    """Return one entry per fault, fields as dotted paths such as `winding.turns` or `cores.0.mix`."""
    return tuple(islice(_walk_faults(detail, ""), MOST_COUNTED))


def _walk_faults(detail: Any, path: str) -> Iterator[FieldError]:
    if isinstance(detail, dict):
        for key, value in detail.items():
            whole = key == api_settings.NON_FIELD_ERRORS_KEY
            yield from _walk_faults(value, path if whole else _join_path(path, str(key)))
    elif isinstance(detail, list):
        for index, value in enumerate(detail):
            nested = isinstance(value, dict | list)
            yield from _walk_faults(value, _join_path(path, str(index)) if nested else path)
    elif isinstance(detail, ErrorDetail):
        code = detail.code if "." in (detail.code or "") else f"field.{detail.code}"
        yield FieldError(code, str(detail), path or None)


def _join_path(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key


logger = logging.getLogger(__name__)

KIND_STATUS = {
    "invalid": 400,
    "forbidden": 403,
    "not_found": 404,
    "conflict": 409,
    "too_large": 413,
    "too_long": 414,
    "too_many": 429,
}

LOGGED_STATUSES = frozenset({401, 403, 404, 413, 429})

BAD_TOKEN, UNKNOWN_SCHEME, NOT_THERE = "sign_in.bad_token", "sign_in.unknown_scheme", "request.not_found"

CHALLENGE = ", ".join(SCHEMES)

TITLES = {
    413: "Content Too Large",
    414: "URI Too Long",
    416: "Range Not Satisfiable",
}  # RFC 9110; Python below 3.13 has its older name

BUSY_RETRY_S = 5

# exception -> status, code, sentence; the first that fits counts
EXCEPTION_PROBLEMS: tuple[tuple[type[Exception] | tuple[type[Exception], ...], int, str, str], ...] = (
    ((Http404, rest_errors.NotFound), 404, NOT_THERE, "There is nothing at this address."),
    (
        UnknownScheme,
        401,
        UNKNOWN_SCHEME,
        "This Authorization header holds no access token. Send: Authorization: Bearer <token>, or no such "
        "header.",
    ),
    (
        rest_errors.AuthenticationFailed,
        401,
        BAD_TOKEN,
        "This token is unknown, expired or revoked. Make a new one; send: Authorization: Bearer <token>",
    ),
    (
        rest_errors.NotAuthenticated,
        401,
        "sign_in.required",
        "This address needs an access token. Send: Authorization: Bearer <token>",
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


class ProblemResponse(HttpResponse):
    """A reply for an error that still knows its code."""

    code: str


def make_problem(
    status: int,
    code: str,
    detail: str,
    errors: Sequence[FieldError] = (),
    headers: Mapping[str, str] | None = None,
) -> ProblemResponse:
    """Make the reply for an error. Without `errors` the list repeats the problem itself; at most 20."""
    listed = [_format_error(error) for error in (errors or (FieldError(code, detail),))[:MOST_ERRORS]]
    body = {
        "type": "about:blank",
        "title": TITLES.get(status, HTTPStatus(status).phrase),
        "status": status,
        "detail": _shorten(detail, MOST_DETAIL_CHARACTERS),
        "code": code,
        "errors": listed,
    }
    reply = ProblemResponse(
        json.dumps(body, ensure_ascii=False, allow_nan=False),
        status=status,
        content_type="application/problem+json",
        headers=dict(headers or {}),
    )
    reply.code = code
    return reply


def convert_exception(exception: Exception, context: dict[str, Any]) -> ProblemResponse:
    """Make the reply for whatever a view raised; what may be an attempt is logged with its reason."""
    reply = _convert(exception)
    request = context.get("request")
    if request is not None and reply.status_code in LOGGED_STATUSES and reply.code != NOT_THERE:
        _log_refusal(request, reply)
    return reply


def _log_refusal(request: Any, reply: ProblemResponse) -> None:
    address = request.META.get("REMOTE_ADDR", "")
    if reply.code in (BAD_TOKEN, UNKNOWN_SCHEME):
        security_log.log_failed_sign_in(way="token", reason=reply.code, address=address)
        return
    security_log.log_refused_request(
        method=request.method,
        path=request.path,
        reason=reply.code,
        account=viewers.get_viewer(request.user).name if reply.status_code != 401 else "",
        address=address,
    )


def _convert(exception: Exception) -> ProblemResponse:
    """Make the reply for an exception; one that nobody foresaw is logged and is a 500."""
    if isinstance(exception, BenchnightError):
        return convert_benchnight_error(exception)
    if isinstance(exception, rest_errors.ValidationError):
        errors = list_field_errors(exception.detail)
        told = f"Some fields need mending; see the list of errors.{describe_unlisted(len(errors))}"
        return make_problem(400, "request.invalid", told, errors)
    if isinstance(exception, rest_errors.MethodNotAllowed):
        return make_problem(
            405, "request.method", "This address does not take this method. See the Allow header."
        )
    if isinstance(exception, rest_errors.NotAcceptable):
        return make_not_acceptable(exception)
    if disk_room.is_disk_full(exception):
        logger.error("There is no room left to store anything", exc_info=exception)
        return make_problem(
            503, "server.full", disk_room.NO_ROOM_DETAIL, headers={"Retry-After": str(disk_room.RETRY_S)}
        )
    if isinstance(exception, InterfaceError | OperationalError):
        logger.exception("The database did not answer in time")
        return make_problem(
            503,
            "server.busy",
            "The database is busy. Try again shortly.",
            headers={"Retry-After": str(BUSY_RETRY_S)},
        )
    if isinstance(exception, size_limits.REQUEST_TOO_LARGE):
        return make_problem(413, "request.too_large", size_limits.describe_request_limit(exception))
    for kinds, status, code, detail in EXCEPTION_PROBLEMS:
        if isinstance(exception, kinds):
            headers = {"WWW-Authenticate": CHALLENGE} if status == 401 else None
            return make_problem(status, code, detail, headers=headers)
    logger.error("A request failed in a way that nobody foresaw", exc_info=exception)
    return make_problem(
        500, "server.failed", "Something went wrong on the server; it was logged. Your data is safe."
    )


def convert_benchnight_error(
    error: BenchnightError, headers: Mapping[str, str] | None = None
) -> ProblemResponse:
    """Make the reply for an error of the rooms below; its kind decides the status."""
    told = {} if error.wait_s is None else {"Retry-After": str(error.wait_s)}
    return make_problem(
        KIND_STATUS[error.kind], error.code, error.detail, error.errors, {**told, **(headers or {})}
    )


def make_not_acceptable(exception: rest_errors.NotAcceptable) -> ProblemResponse:
    """Return 406 that names what is on offer."""
    offered = ", ".join(renderer.media_type for renderer in exception.available_renderers or ())
    return make_problem(
        406, "request.not_acceptable", f"This address answers with: {offered}. Ask for one of them."
    )


def _format_error(error: FieldError) -> dict[str, Any]:
    field = None if error.field is None else _shorten(error.field, MOST_FIELD_CHARACTERS)
    detail = _shorten(error.detail, MOST_DETAIL_CHARACTERS)
    entry: dict[str, Any] = {"field": field, "code": error.code, "detail": detail}
    if error.line is not None:
        entry["line"] = error.line
    return entry


def _shorten(text: str, most_characters: int) -> str:
    return text if len(text) <= most_characters else f"{text[: most_characters - 1]}\u2026"
