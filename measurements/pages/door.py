"""What every view goes through: who asks, how a page is put together, how a refusal looks.

`page(view)` hands the view its viewer, turns a `BenchnightError` into a page of the same look, and
tells caches to keep nothing: every page depends on who is signed in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial, wraps
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render as render_template
from django.urls import reverse
from django.utils.cache import patch_cache_control, patch_vary_headers

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import watch
from measurements.pages import kept_pages
from measurements.queries import viewers

STATUS = {
    "invalid": 400,
    "forbidden": 403,
    "not_found": 404,
    "conflict": 409,
    "too_large": 413,
    "too_many": 429,
}
TITLES = {
    400: "That address asks for something we cannot make out",
    403: "Not for this account",
    404: "There is nothing here",
    409: "Somebody was quicker",
    413: "Too much at once",
    429: "A little slower, please",
    500: "Something broke on our side",
}
# where the status alone would say the wrong thing
TITLES_OF_REASONS = {
    "account.link_spent": "This link signs nobody in",
    "form.no_token": "This form waited too long",
}
WATCHED = frozenset({403, 404, 413, 429})
LOOKS = ("system", "light", "dark")
View = Callable[..., HttpResponse]


def page(view: View, *, members: bool = False, stewards: bool = False, shared: bool = False) -> View:
    """A view `(request, viewer, ...)` as Django calls it. members: send everybody else to sign in.

    stewards: refuse every other member, whatever the view would do. shared: everybody who is not signed in
    sees the same, made of what the catalogue holds.
    """

    @wraps(view)
    def opened(request: HttpRequest, **kwargs: Any) -> HttpResponse:
        viewer = viewers.of(request.user)
        try:
            if stewards and viewer.signed_in:
                policy.check_steward(viewer)
            if (members or stewards) and not viewer.signed_in:
                response = _sign_in_first(request)
            elif shared and kept_pages.may_be_kept(request, viewer):
                make = partial(view, request, viewer, **kwargs)
                response = kept_pages.for_everybody(request, look(request), make)
            else:
                response = view(request, viewer, **kwargs)
        except BenchnightError as error:
            response = refusal(request, STATUS[error.kind], error.detail, reason=error.code)
            if error.wait_s is not None:
                response["Retry-After"] = str(error.wait_s)
        return _uncached(response, viewer)

    return opened


def render(
    request: HttpRequest, template: str, context: Mapping[str, Any] | None = None, *, status: int = 200
) -> HttpResponse:
    """A page with what the layout needs: the viewer, the group's name and the chosen look."""
    return render_template(request, template, {**frame(request), **(context or {})}, status=status)


def frame(request: HttpRequest) -> dict[str, Any]:
    """What the layout shows on every page."""
    return {
        "viewer": viewer_of(request),
        "group_name": settings.BENCHNIGHT_GROUP_NAME,
        "look": look(request),
        "looks": LOOKS,
        "here": request.get_full_path(),
        "section": request.path.split("/")[1],
    }


def viewer_of(request: HttpRequest) -> Viewer:
    """Who asks; nobody where the account could not even be looked up."""
    return viewers.of(getattr(request, "user", None))


def look(request: HttpRequest) -> str:
    """The look that was chosen in the footer."""
    chosen = request.COOKIES.get(settings.BENCHNIGHT_LOOK_COOKIE, "system")
    return chosen if chosen in LOOKS else "system"


def refusal(request: HttpRequest, status: int, detail: str, *, reason: str = "") -> HttpResponse:
    """A page that says what is wrong and where to go instead; what may be an attempt is logged.

    reason: the code of the error behind it; an address that there never was has none.
    """
    if status in WATCHED and (reason or status != 404):
        watch.refused(
            method=request.method or "",
            path=request.path,
            reason=reason or f"page.{status}",
            account=viewer_of(request).name,
            address=request.META.get("REMOTE_ADDR", ""),
        )
    context = {"status": status, "title": TITLES_OF_REASONS.get(reason, TITLES[status]), "detail": detail}
    return _uncached(render(request, "site/refusal.html", context, status=status), viewer_of(request))


def _uncached(response: HttpResponse, viewer: Viewer) -> HttpResponse:
    unkept = "no_store" if viewer.signed_in else "no_cache"
    patch_cache_control(response, private=True, **{unkept: True})
    patch_vary_headers(response, ["Cookie"])
    return response


def _sign_in_first(request: HttpRequest) -> HttpResponse:
    wanted = request.get_full_path() if request.method == "GET" else request.path
    return HttpResponseRedirect(f"{reverse('pages:sign_in')}?{urlencode({'next': wanted})}")
