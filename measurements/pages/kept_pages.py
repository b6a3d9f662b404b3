"""Pages that everybody who is not signed in sees alike: put together once, until the catalogue changes."""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse

from measurements.disclosure.circles import Viewer
from measurements.queries.kept import PUBLIC, Answer

_CARRIED = ("Content-Type", "Content-Disposition", "Content-Security-Policy")
# whoever has a session may be shown something of their own
_OWN_COOKIE = settings.SESSION_COOKIE_NAME


def may_be_kept(request: HttpRequest, viewer: Viewer) -> bool:
    """Whether this request is nobody's in particular and only reads."""
    if viewer.signed_in or request.method not in ("GET", "HEAD"):
        return False
    return _OWN_COOKIE not in request.COOKIES


def for_everybody(request: HttpRequest, look: str, make: Callable[[], HttpResponse]) -> HttpResponse:
    """The kept page of this address in this look, or what `make` answers; only a 200 is kept."""
    refused: list[HttpResponse] = []

    def answer() -> Answer | None:
        response = make()
        if response.status_code != 200 or response.streaming or response.cookies:
            refused.append(response)
            return None
        named = tuple((name, response[name]) for name in _CARRIED if response.has_header(name))
        return Answer(bytes(response.content), named)

    found = PUBLIC.answer(("page", request.build_absolute_uri(), look), answer)
    return refused[0] if found is None else HttpResponse(found.content, headers=dict(found.headers))
