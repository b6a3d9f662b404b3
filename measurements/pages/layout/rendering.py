"""What every view goes through: who asks, how a page is put together, how a refusal looks.

`page(view)` hands the view its viewer, turns a `BenchnightError` into a page of the same look, and
tells caches to keep nothing: every page depends on who is signed in.
"""

from __future__ import annotations

from collections.abc import Callable, Mapping
from functools import partial, wraps
from typing import Any
from urllib.parse import urlencode, urlsplit

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.shortcuts import render as render_template
from django.urls import reverse
from django.utils.cache import patch_cache_control, patch_vary_headers

from measurements.disclosure import policy
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.selectors import page_reads
from measurements.selectors.accounts import viewers
from measurements.selectors.evidence import public_replies
from measurements.selectors.evidence.public_replies import PublicReply
from measurements.selectors.reference import reference
from measurements.services.accounts import second_factors, security_log

# Pages that everybody who is not signed in sees alike: put together once, until the catalogue changes.

_CACHED_HEADERS = ("Content-Type", "Content-Disposition", "Content-Security-Policy")

# whoever has a session may be shown something of their own
_SESSION_COOKIE = settings.SESSION_COOKIE_NAME


def can_cache_page(request: HttpRequest, viewer: Viewer) -> bool:
    """Say whether this request is nobody's in particular and only reads."""
    if viewer.signed_in or request.method not in ("GET", "HEAD"):
        return False
    return _SESSION_COOKIE not in request.COOKIES


def get_cached_page(request: HttpRequest, look: str, make: Callable[[], HttpResponse]) -> HttpResponse:
    """Return this address in this look from the cache, or else from `make`; cache only a 200."""
    key = public_replies.build_key("page", request.build_absolute_uri(), look)
    found = public_replies.find_reply(key)
    if found is not None:
        return HttpResponse(found.content, headers=dict(found.headers))
    made = make()
    if made.status_code == 200 and not made.streaming and not made.cookies:
        named = tuple((name, made[name]) for name in _CACHED_HEADERS if made.has_header(name))
        public_replies.keep_reply(key, PublicReply(bytes(made.content), named))
    return made


STATUS_BY_KIND = {
    "invalid": 400,
    "forbidden": 403,
    "not_found": 404,
    "conflict": 409,
    "too_large": 413,
    "too_many": 429,
}

REFUSAL_TITLES = {
    400: "That address asks for something we cannot make out",
    403: "Not for this account",
    404: "There is nothing here",
    409: "Somebody was quicker",
    413: "Too much at once",
    429: "A little slower, please",
    500: "Something broke on our side",
}

# where the status alone would say the wrong thing
REFUSAL_TITLES_BY_CODE = {
    "account.link_spent": "This link signs nobody in",
    "form.no_token": "This form waited too long",
}

LOGGED_STATUSES = frozenset({403, 404, 413, 429})

THEMES = ("system", "light", "dark")

View = Callable[..., HttpResponse]


def wrap_view(
    view: View, *, members: bool = False, stewards: bool = False, shared: bool = False, early: bool = False
) -> View:
    """Return a view `(request, viewer, ...)` as Django calls it. members: send everybody else to sign in.

    stewards: refuse every other member, whatever the view would do. shared: everybody who is not signed in
    sees the same, made of what the catalogue holds. early: open to a session that waits for a second factor.
    """

    @wraps(view)
    def opened(request: HttpRequest, **kwargs: Any) -> HttpResponse:
        viewer = viewers.get_viewer(request.user)
        try:
            if viewer.signed_in and not early and _waits_for_second_factor(request, viewer):
                return _forbid_caching(_redirect_to_second_factor(viewer), viewer)
            if stewards and viewer.signed_in:
                policy.check_steward(viewer)
            if (members or stewards) and not viewer.signed_in:
                response = _redirect_to_sign_in(request)
            elif shared and can_cache_page(request, viewer):
                make = partial(_read_page, view, request, viewer, **kwargs)
                response = get_cached_page(request, get_theme(request), make)
            else:
                response = _read_page(view, request, viewer, **kwargs)
        except BenchnightError as error:
            response = render_refusal(request, STATUS_BY_KIND[error.kind], error.detail, reason=error.code)
            if error.wait_s is not None:
                response["Retry-After"] = str(error.wait_s)
        return _forbid_caching(response, viewer)

    return opened


def _read_page(view: View, request: HttpRequest, viewer: Viewer, **kwargs: Any) -> HttpResponse:
    """Call the view; parts of a page that only reads share what they read of the database."""
    if request.method not in ("GET", "HEAD"):
        return view(request, viewer, **kwargs)
    with page_reads.remember_reads():
        return view(request, viewer, **kwargs)


def render_page(
    request: HttpRequest, template: str, context: Mapping[str, Any] | None = None, *, status: int = 200
) -> HttpResponse:
    """Build a page; what the layout needs comes from `build_layout_context`."""
    return render_template(request, template, dict(context or {}), status=status)


def build_layout_context(request: HttpRequest) -> dict[str, Any]:
    """Collect what the layout shows on every page; a context processor, named in the settings."""
    return {
        "viewer": get_viewer(request),
        "group_name": reference.get_group_name(),
        "has_demo": reference.has_demo(),
        "look": get_theme(request),
        "looks": THEMES,
        "here": request.get_full_path(),
        "section": request.path.split("/")[1],
        "codes_lead_to": partial(_find_other_site, request),  # asked by pages that print codes
    }


def _find_other_site(request: HttpRequest) -> str:
    """Return the site that printed codes lead to; empty where the reader is on it."""
    site = settings.BENCHNIGHT_SITE
    return "" if urlsplit(site).netloc == request.get_host() else site


def get_viewer(request: HttpRequest) -> Viewer:
    """Return the viewer; the public where the account cannot be looked up."""
    return viewers.get_viewer(getattr(request, "user", None))


def get_theme(request: HttpRequest) -> str:
    """Return the look that was chosen in the footer."""
    chosen = request.COOKIES.get(settings.BENCHNIGHT_LOOK_COOKIE, "system")
    return chosen if chosen in THEMES else "system"


def render_refusal(request: HttpRequest, status: int, detail: str, *, reason: str = "") -> HttpResponse:
    """Return a page that says what is wrong and where to go instead; what may be an attempt is logged.

    reason: the code of the error behind it; an address that there never was has none.
    """
    if status in LOGGED_STATUSES and (reason or status != 404):
        security_log.log_refused_request(
            method=request.method or "",
            path=request.path,
            reason=reason or f"page.{status}",
            account=get_viewer(request).name,
            address=request.META.get("REMOTE_ADDR", ""),
        )
    context = {
        "status": status,
        "title": REFUSAL_TITLES_BY_CODE.get(reason, REFUSAL_TITLES[status]),
        "detail": detail,
    }
    return _forbid_caching(
        render_page(request, "layout/refusal.html", context, status=status), get_viewer(request)
    )


def _forbid_caching(response: HttpResponse, viewer: Viewer) -> HttpResponse:
    unkept = "no_store" if viewer.signed_in else "no_cache"
    patch_cache_control(response, private=True, **{unkept: True})
    patch_vary_headers(response, ["Cookie"])
    return response


def _redirect_to_sign_in(request: HttpRequest) -> HttpResponse:
    wanted = request.get_full_path() if request.method == "GET" else request.path
    return HttpResponseRedirect(f"{reverse('pages:sign_in')}?{urlencode({'next': wanted})}")


def _waits_for_second_factor(request: HttpRequest, viewer: Viewer) -> bool:
    return second_factors.is_session_waiting(request.session, viewer.role)


def _redirect_to_second_factor(viewer: Viewer) -> HttpResponse:
    """Lead to the page that takes a code or passkey, or to the one that sets the first one up."""
    known = second_factors.has_second_factor(viewer.member_id)
    return HttpResponseRedirect(reverse("pages:sign_in_second" if known else "pages:second_factor"))
