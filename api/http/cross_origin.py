"""Which scripts of other sites may read replies (CORS, WHATWG Fetch 3.2).

Public reads without any sign-in are open to `BENCHNIGHT_PUBLIC_ORIGINS` (default: every site), requests with
a token to `BENCHNIGHT_TOKEN_ORIGINS` (default: none). Credentials of the browser are never allowed: the
site's own sign-in is for the site's own pages.
"""

from __future__ import annotations

from collections.abc import Iterable

from django.conf import settings
from django.http import HttpResponseBase
from django.utils.cache import patch_vary_headers
from rest_framework.request import Request

ANY = "*"
PUBLIC_METHODS = ("GET", "HEAD")
PUBLIC_HEADERS = ("If-None-Match", "If-Range", "Range")
CHANGE_HEADERS = ("Content-Digest", "Content-Type", "Idempotency-Key", "If-Match")
TOKEN_HEADERS = ("Authorization", *CHANGE_HEADERS, *PUBLIC_HEADERS)
EXPOSED = (
    "Accept-Ranges",
    "Content-Digest",
    "Content-Disposition",
    "Content-Range",
    "ETag",
    "Link",
    "Location",
    "RateLimit",
    "RateLimit-Policy",
    "Retry-After",
)
PREFLIGHT_S = 3600


def allow_reading(request: Request, response: HttpResponseBase) -> None:
    """Let the asking site's script read this reply where a setting says so."""
    patch_vary_headers(response, ["Origin"])
    has_token = "Authorization" in request.headers
    is_public_read = request.method in PUBLIC_METHODS and settings.SESSION_COOKIE_NAME not in request.COOKIES
    if not has_token and not is_public_read:
        return
    allowed = _find_allowed(request, has_token=has_token)
    if allowed is not None:
        response["Access-Control-Allow-Origin"] = allowed
        response["Access-Control-Expose-Headers"] = ", ".join(EXPOSED)


def answer_preflight(request: Request, response: HttpResponseBase, methods: Iterable[str]) -> None:
    """Answer a browser that asks before it sends: which methods and headers it may use here."""
    wanted = request.headers.get("Access-Control-Request-Method")
    if wanted is None:
        return
    patch_vary_headers(response, ["Origin", "Access-Control-Request-Headers"])
    names = request.headers.get("Access-Control-Request-Headers", "").lower().split(",")
    has_token = "authorization" in {name.strip() for name in names}
    allowed = _find_allowed(request, has_token=has_token)
    if allowed is None:
        return
    usable = [name for name in methods if has_token or name in PUBLIC_METHODS]
    response["Access-Control-Allow-Origin"] = allowed
    response["Access-Control-Allow-Methods"] = ", ".join(usable)
    response["Access-Control-Allow-Headers"] = ", ".join(TOKEN_HEADERS if has_token else PUBLIC_HEADERS)
    response["Access-Control-Max-Age"] = str(PREFLIGHT_S)


def _find_allowed(request: Request, *, has_token: bool) -> str | None:
    origin = request.headers.get("Origin")
    known = settings.BENCHNIGHT_TOKEN_ORIGINS if has_token else settings.BENCHNIGHT_PUBLIC_ORIGINS
    if origin is None:
        return None
    if ANY in known:
        return ANY
    return origin if origin in known else None
