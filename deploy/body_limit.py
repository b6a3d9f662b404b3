"""Refuses a request body that is too large before anything reads it.

Django's own limit covers JSON and forms only: multipart files would be spooled to disk whole. The
intake address takes a club night's zip, every other address one test's sweeps.
"""

from __future__ import annotations

import re
from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from measurements.pages import door

REST = "/api/v1/"
INTAKE_ADDRESS = re.compile(r"/nights/[^/]+/(intake/)?$")
MEBIBYTE = 1024 * 1024


class BodyLimitMiddleware:
    def __init__(self, get_response: Callable[[HttpRequest], HttpResponse]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponse:
        limit_bytes = limit_for(request.path)
        if declared_bytes(request) > limit_bytes:
            if not request.path.startswith(REST):
                return door.refusal(request, 413, sentence(limit_bytes), reason="request.too_large")
            # the REST door counts the request first, and refuses it before it reads any of it
            request.too_large = sentence(limit_bytes)  # type: ignore[attr-defined]
        return self.get_response(request)


def limit_for(path: str) -> int:
    """The largest body, in bytes, that the address `path` takes."""
    if INTAKE_ADDRESS.search(path):
        return settings.BENCHNIGHT_INTAKE_BODY_BYTES
    return settings.BENCHNIGHT_BODY_BYTES


def declared_bytes(request: HttpRequest) -> int:
    """The length that the client declares; a body without one is not read at all by Django."""
    declared = request.META.get("CONTENT_LENGTH") or "0"
    return int(declared) if declared.isdecimal() else 0


def sentence(limit_bytes: int) -> str:
    """Which limit it is, and how to stay within it."""
    return (
        f"The request is larger than {limit_bytes // MEBIBYTE} MiB, which is all that this address takes. "
        "Send fewer or smaller files in one request."
    )
