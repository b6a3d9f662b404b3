"""What Django answers with when no view could: the same look, and a sentence that helps."""

from __future__ import annotations

import sys

from django.http import HttpRequest, HttpResponse
from django.template.loader import render_to_string

from measurements.pages.layout import rendering
from measurements.services.operations import disk_room
from measurements.services.uploads import size_limits


def show_not_found(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Return 404."""
    return rendering.render_refusal(
        request, 404, "The address may be mistyped, or what stood here was withdrawn."
    )


def show_forbidden(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Return 403."""
    return rendering.render_refusal(
        request, 403, "Your account may not do this. A steward can tell you who may."
    )


def show_bad_request(request: HttpRequest, exception: Exception | None = None) -> HttpResponse:
    """Return 400, or 413 where too much was sent."""
    if isinstance(exception, size_limits.REQUEST_TOO_LARGE):
        return rendering.render_refusal(request, 413, size_limits.describe_request_limit(exception))
    return rendering.render_refusal(request, 400, "Go back and try again from the page you came from.")


def show_missing_csrf_token(request: HttpRequest, reason: str = "") -> HttpResponse:
    """Return 403 for a form without its one-time token: cookies are off, or the page was open for long."""
    return rendering.render_refusal(
        request,
        403,
        "This form was open for too long, or cookies are off. Go back, reload the page and send it again.",
        reason="form.no_token",
    )


def show_server_error(request: HttpRequest) -> HttpResponse:
    """Return 500: drawn without the database, the session or anything else that may be what broke.

    A disk that fills up while a form's files come in, or a session is saved, breaks outside every view: 503.
    """
    if disk_room.is_disk_full(sys.exception()):
        return show_disk_full(request)
    return HttpResponse(render_to_string("500.html"), status=500)


def show_database_unavailable(_request: HttpRequest) -> HttpResponse:
    """Return 503: drawn without the database, too."""
    return HttpResponse(render_to_string("503.html"), status=503)


def show_disk_full(_request: HttpRequest) -> HttpResponse:
    """Return 503 on a full disk: the same page with what to do about it."""
    page = render_to_string("503.html", {"reason": disk_room.NO_ROOM_DETAIL})
    return HttpResponse(page, status=503, headers={"Retry-After": str(disk_room.RETRY_S)})
