"""Compresses pages and pictures by gzip, except where a secret and a word of the request may meet.

An attacker who sees the lengths of encrypted replies, and can make a browser ask for chosen addresses, finds
out a secret in a compressed page letter by letter, if the page repeats a word of the address (the attack
BREACH of 2013). So a page that holds a form's token, or that a signed-in browser asked for, is compressed
only where the address carries no words: a plain GET without a query that found its page. Pages for everybody
hold no secret, and charts repeat no word: what their addresses choose comes out of lists. Django's middleware
also pads each reply by up to 100 random bytes.

Static files are compressed once, when they are collected; files and the API's replies are sent as they are.
"""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest
from django.http.response import HttpResponseBase
from django.middleware.gzip import GZipMiddleware

REST_PREFIX = "/api/"
CHART_TYPES = frozenset({"image/svg+xml", "application/json"})
COMPRESSED_TYPES = CHART_TYPES | {"text/html"}
TOKEN_FIELD = b"csrfmiddlewaretoken"


class PageCompressionMiddleware(GZipMiddleware):
    """Compress what `may_compress` lets through; the base class asks whether the browser takes gzip."""

    def process_response(self, request: HttpRequest, response: HttpResponseBase) -> HttpResponseBase:
        if not may_compress(request, response):
            return response
        return super().process_response(request, response)  # type: ignore[arg-type]


def may_compress(request: HttpRequest, response: HttpResponseBase) -> bool:
    """Say whether no secret of this reply can be found out by its length."""
    kind = response.headers.get("Content-Type", "").partition(";")[0]
    if response.streaming or kind not in COMPRESSED_TYPES or request.path.startswith(REST_PREFIX):
        return False
    if not _may_hold_secret(request, response):
        return True
    repeats_words = kind not in CHART_TYPES and bool(request.META.get("QUERY_STRING"))
    return request.method == "GET" and response.status_code == 200 and not repeats_words


def _may_hold_secret(request: HttpRequest, response: HttpResponseBase) -> bool:
    return (
        settings.SESSION_COOKIE_NAME in request.COOKIES
        or bool(response.cookies)
        or TOKEN_FIELD in response.content  # type: ignore[attr-defined]  # not a streaming one
    )
