"""What Django answers with when no view could: the same look, and a sentence that helps."""

from __future__ import annotations

import sys

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

from measurements.ingest import disk_room, request_limits
from measurements.pages import door


def not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """404."""
    return door.refusal(request, 404, "The address may be mistyped, or what stood here was withdrawn.")


def forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """403."""
    return door.refusal(request, 403, "Your account may not do this. A steward can tell you who may.")


def bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """400, or 413 where too much was sent."""
    if isinstance(exception, request_limits.TOO_LARGE):
        return door.refusal(request, 413, request_limits.sentence(exception))
    return door.refusal(request, 400, "Go back and try again from the page you came from.")


def no_token(request: HttpRequest, reason: str = "") -> HttpResponse:
    """403 for a form without its one-time token: cookies are off, or the page was open for long."""
    return door.refusal(
        request,
        403,
        "This form was open for too long, or cookies are off. Go back, reload the page and send it again.",
        reason="form.no_token",
    )


def broken(request: HttpRequest) -> HttpResponse:
    """500: drawn without the database, the session or anything else that may be what broke.

    A disk that fills up while a form's files come in, or a session is saved, breaks outside every view: 503.
    """
    if disk_room.is_used_up(sys.exception()):
        return no_room(request)
    return HttpResponse(render_to_string("500.html"), status=500)


def database_away(_request: HttpRequest) -> HttpResponse:
    """503: drawn without the database, too."""
    return HttpResponse(render_to_string("503.html"), status=503)


def no_room(_request: HttpRequest) -> HttpResponse:
    """503 on a full disk: the same page with what to do about it."""
    page = render_to_string("503.html", {"reason": disk_room.SENTENCE})
    return HttpResponse(page, status=503, headers={"Retry-After": str(disk_room.RETRY_S)})
