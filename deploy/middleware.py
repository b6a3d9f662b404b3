"""Refuses a request body that is too large before anything reads it.

Django's own limit covers JSON and forms only: multipart files would be spooled to disk whole. The
intake address takes a club night's zip, every other address one test's sweeps.
"""

from __future__ import annotations

import ipaddress
import logging
import re
from collections.abc import Callable
from datetime import timedelta
from zoneinfo import ZoneInfo

from django.conf import settings
from django.contrib.auth import SESSION_KEY, logout
from django.db.utils import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse
from django.utils import timezone

from measurements.pages.layout import error_pages, rendering
from measurements.selectors.accounts.credentials import OPENED, RENEWED
from measurements.selectors.reference import reference
from measurements.services.operations import disk_room

REST_PREFIX = "/api/v1/"

INTAKE_ADDRESS = re.compile(r"/nights/[^/]+/(intake/)?$|/(bundles|folders)/$")

MEBIBYTE = 1024 * 1024


class GroupZoneMiddleware:
    """Days and hours of a request are those of the group's time zone, which a steward may set."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        zone = reference.get_time_zone()
        if zone == settings.TIME_ZONE:
            return self.get_response(request)
        with timezone.override(ZoneInfo(zone)):
            return self.get_response(request)


class BodyLimitMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        limit_bytes = get_limit_bytes(request.path)
        if read_declared_bytes(request) > limit_bytes:
            if not request.path.startswith(REST_PREFIX):
                return rendering.render_refusal(
                    request, 413, describe_body_limit(limit_bytes), reason="request.too_large"
                )
            # the REST door counts the request first, and refuses it before it reads any of it
            request.too_large = describe_body_limit(limit_bytes)  # type: ignore[attr-defined]
        return self.get_response(request)


def get_limit_bytes(path: str) -> int:
    """Return the largest body, in bytes, that the address `path` takes."""
    if INTAKE_ADDRESS.search(path):
        return settings.BENCHNIGHT_INTAKE_BODY_BYTES
    return settings.BENCHNIGHT_BODY_BYTES


def read_declared_bytes(request: HttpRequest) -> int:
    """Return the length that the client declares; a body without one is not read at all by Django."""
    declared = request.META.get("CONTENT_LENGTH") or "0"
    return int(declared) if declared.isdecimal() else 0


def describe_body_limit(limit_bytes: int) -> str:
    """Return which limit it is, and how to stay within it."""
    return (
        f"The request is larger than {limit_bytes // MEBIBYTE} MiB, which is all that this address takes. "
        "Send fewer or smaller files in one request."
    )


# Find the client's address behind proxies.
#
# Each trusted proxy appends the address it saw to X-Forwarded-For, so with N proxies the N-th entry
# from the right was written by the outermost one; whatever stands further left may be invented by
# the client. Without proxies the header is ignored. Throttles read REMOTE_ADDR.


class ClientAddressMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        proxies = settings.BENCHNIGHT_PROXIES
        if proxies:
            seen = request.META.get("HTTP_X_FORWARDED_FOR", "").split(",")
            if len(seen) >= proxies and is_address(seen[-proxies].strip()):
                request.META["REMOTE_ADDR"] = seen[-proxies].strip()
        return self.get_response(request)


def is_address(text: str) -> bool:
    """Say whether `text` is an IPv4 or IPv6 address and nothing else."""
    try:
        ipaddress.ip_address(text)
    except ValueError:
        return False
    return True


# Pages while the database is away, too busy or has no room: 503 with a time to try again, no fault of ours.
#
# The REST door answers so itself. No connection stays open: the next request connects anew (connections are
# checked
# before use), so the server works again as soon as the database does.

logger = logging.getLogger(__name__)

DATABASE_RETRY_S = 5


class DatabaseAwayMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        return self.get_response(request)

    def process_exception(self, request: HttpRequest, exception: Exception) -> HttpResponse | None:
        """Return the page for a database that did not answer; None leaves every other fault to Django."""
        if disk_room.is_disk_full(exception):
            logger.error("There is no room left to store anything", exc_info=exception)
            return error_pages.show_disk_full(request)
        if not isinstance(exception, InterfaceError | OperationalError):
            return None
        logger.error("The database did not answer", exc_info=exception)
        response = error_pages.show_database_unavailable(request)
        response["Retry-After"] = str(DATABASE_RETRY_S)
        return response


# Ends a session that was opened long ago, however much it is used, and keeps a used one from running out.
#
# Unused, a session ends after SESSION_COOKIE_AGE: its row and cookie are renewed once a day at most, not by
# every request. Used, it ends MOST after somebody signed in. deploy/SECURITY.md says why these.

MAX_SESSION_AGE = timedelta(days=30)

RENEW_AFTER = timedelta(days=1)


class SessionAgeMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        # who brings no cookie has no session: a look into it would say that the reply depends on one
        if settings.SESSION_COOKIE_NAME in request.COOKIES and SESSION_KEY in request.session:
            now = timezone.now().timestamp()
            opened = request.session.setdefault(OPENED, now)
            if now - opened > MAX_SESSION_AGE.total_seconds():
                logout(request)
            elif now - request.session.get(RENEWED, 0) > RENEW_AFTER.total_seconds():
                request.session[RENEWED] = now
        return self.get_response(request)
