"""How to take data out; and the choice of light or dark."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from measurements.disclosure.circles import ANONYMOUS, Viewer
from measurements.pages import door, sessions
from measurements.queries import designs, release_files, releases

YEAR_S = 365 * 24 * 3600


def data(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the newest release's files, the API, tokens."""
    release = releases.current()
    files = () if release is None else release_files.of_releases(viewer, [release.number])[release.number]
    context = {
        "release": release,
        "files": files,
        "site": request.build_absolute_uri("/").rstrip("/"),
        "design": _example_design(),
        "token_per_minute": settings.BENCHNIGHT_TOKEN_PER_MINUTE,
        "anonymous_per_minute": settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE,
        "min_contributors": settings.BENCHNIGHT_MIN_CONTRIBUTORS,
        "public_min_contributors": settings.BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS,
        "min_changes": settings.BENCHNIGHT_MIN_CHANGES,
    }
    return door.render(request, "data.html", context)


def _example_design() -> str | None:
    """A design of which everybody sees curves, so that the examples show something; else any; or None."""
    found = designs.listing(ANONYMOUS, order="devices", limit=1).results
    return found[0].key if found else None


def look(request: HttpRequest, _viewer: Viewer) -> HttpResponse:
    """POST: remember light, dark, or what the system says; go back to where one was."""
    chosen = request.POST.get("look", "")
    response = HttpResponseRedirect(sessions.safe_next(request, request.POST.get("next", "/")))
    origin = request.headers.get("Origin", "null")
    ours = origin in ("null", f"{request.scheme}://{request.get_host()}")
    if chosen in door.LOOKS and ours:
        response.set_cookie(
            settings.BENCHNIGHT_LOOK_COOKIE,
            chosen,
            max_age=YEAR_S,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
    return response
