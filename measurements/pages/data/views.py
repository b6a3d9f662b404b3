"""How to take data out; and the choice of light or dark."""

from __future__ import annotations

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from measurements.disclosure.viewers import ANONYMOUS, Viewer
from measurements.pages.accounts import browser_sessions
from measurements.pages.layout import rendering, wording
from measurements.selectors.designs import designs
from measurements.selectors.releases import release_files, releases

YEAR_S = 365 * 24 * 3600


def show_data(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the newest release's files, the API, tokens."""
    release = releases.get_current_release()
    files = (
        ()
        if release is None
        else release_files.list_files_of_releases(viewer, [release.number])[release.number]
    )
    context = {
        "release": release,
        "files": files,
        "site": request.build_absolute_uri("/").rstrip("/"),
        "design": _find_example_design(),
        "uploads_per_hour": settings.BENCHNIGHT_UPLOADS_PER_HOUR,
        "token_per_minute": settings.BENCHNIGHT_TOKEN_PER_MINUTE,
        "anonymous_per_minute": settings.BENCHNIGHT_ANONYMOUS_PER_MINUTE,
        "min_contributors": settings.BENCHNIGHT_MIN_CONTRIBUTORS,
        "public_min_contributors": settings.BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS,
        "detail": settings.BENCHNIGHT_DETAIL_MIN_CONTRIBUTORS,
        "min_joiners": settings.BENCHNIGHT_MIN_JOINERS,
        "leaving": wording.format_leaving(settings.BENCHNIGHT_MIN_JOINERS),
    }
    return rendering.render_page(request, "data/data.html", context)


def _find_example_design() -> str | None:
    """Return a design of which everybody sees curves, so that the examples show something; else any; or
    None.
    """
    found = designs.list_designs(ANONYMOUS, order="devices", limit=1).results
    return found[0].key if found else None


def choose_theme(request: HttpRequest, _viewer: Viewer) -> HttpResponse:
    """POST: remember light, dark, or what the system says; go back to where one was."""
    chosen = request.POST.get("look", "")
    response = HttpResponseRedirect(
        browser_sessions.get_safe_redirect(request, request.POST.get("next", "/"))
    )
    origin = request.headers.get("Origin", "null")
    ours = origin in ("null", f"{request.scheme}://{request.get_host()}")
    if chosen in rendering.THEMES and ours:
        response.set_cookie(
            settings.BENCHNIGHT_LOOK_COOKIE,
            chosen,
            max_age=YEAR_S,
            secure=settings.SESSION_COOKIE_SECURE,
            httponly=True,
            samesite="Lax",
        )
    return response
