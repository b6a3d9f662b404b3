"""Replies of shared views to whoever is not signed in: made once, until the catalogue changes.

A request is counted, checked and read as any other; only the view's own work and the rendering are saved.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.conf import settings
from django.http import HttpResponse, HttpResponseBase
from rest_framework.request import Request

from api.http import representation
from measurements.selectors.evidence import public_replies
from measurements.selectors.evidence.public_replies import PublicReply

# each of these asks for more than reading, or by somebody
_UNCACHED_HEADERS = ("Authorization", "Content-Digest", "If-Match", "Range")


def is_anonymous_read(request: Request) -> bool:
    """Tell whether a request reads, and carries nothing by which its sender could be known."""
    if request.method != "GET" or settings.SESSION_COOKIE_NAME in request.COOKIES:
        return False
    has_body = request.META.get("CONTENT_LENGTH") not in (None, "", "0")
    return not has_body and not any(name in request.headers for name in _UNCACHED_HEADERS)


def build_key(request: Request) -> str:
    """Build the key of the reply to this request: its address and host, and the form that was agreed on."""
    form = request.accepted_renderer.format, request.accepted_media_type
    is_gzip = representation.accepts_gzip(request.headers.get("Accept-Encoding", ""))
    return public_replies.build_key("api", request.build_absolute_uri(), *form, is_gzip)


def reuse_reply(key: str, handler: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """Return wrap a handler: answer from the cache where it has the key, else call the handler."""

    def answer(*args: Any, **kwargs: Any) -> HttpResponseBase:
        found = public_replies.find_reply(key)
        if found is None:
            return handler(*args, **kwargs)
        return HttpResponse(found.content, headers=dict(found.headers))

    return answer


def keep_reply(key: str, response: HttpResponseBase) -> None:
    """Keep a finished 200 before anything of the request, such as its limit, is written on it."""
    if response.status_code == 200 and isinstance(response, HttpResponse) and not response.cookies:
        public_replies.keep_reply(key, PublicReply(bytes(response.content), tuple(response.items())))
