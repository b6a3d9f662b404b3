"""The own account: who one is here, what is published of one, password, signing in and out."""

from __future__ import annotations

from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils.crypto import salted_hmac

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import accounts, throttle, watch
from measurements.pages import door, faults, sessions
from measurements.pages.forms.account import PasswordForm, SignInForm
from measurements.queries import published, releases

MINUTE_S = 60
TOGETHER = 6  # times the limit of one account at one address: for all of an address, and of an account


def account(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the account. POST: change the password."""
    asks = accounts.has_password(viewer) and not sessions.came_by_link(request)
    form = PasswordForm(request.POST if request.method == "POST" else None, asks_present=asks)
    status = 200
    if request.method == "POST":
        if "present" in form.fields:  # guessing it here is no cheaper than at the door
            allowance = _counted(request, viewer.name)
            if not allowance.allowed:
                return _too_often(request, allowance)
        if form.is_valid() and _password_changed(request, viewer, form):
            return HttpResponseRedirect(reverse("pages:account"))
        status = 422
    context = {
        "form": form,
        "published": published.of_viewer(viewer),
        "crowded": published.crowded(viewer),
        "release": releases.current(),
    }
    return door.render(request, "account.html", context, status=status)


def _password_changed(request: HttpRequest, viewer: Viewer, form: PasswordForm) -> bool:
    try:
        present = form.cleaned_data.get("present")
        accounts.set_password(by=viewer, password=form.cleaned_data["password"], present=present)
    except BenchnightError as error:
        if error.code == "account.present_password":
            _turned_away(request, "password", error.code, viewer.name)
        faults.show(form, error)
        return False
    # a new password ends every other session of the account; this one goes on under a new key
    sessions.open_for(request, viewer.member_id, way="new password")  # type: ignore[arg-type]  # signed in
    messages.success(request, "Your password is changed.")
    return True


def sign_in(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: name and password. POST: sign in and go on to `next`."""
    wanted = sessions.safe_next(request, request.POST.get("next") or request.GET.get("next") or "/")
    if viewer.signed_in and request.method != "POST":
        return HttpResponseRedirect(wanted)
    form = SignInForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        allowance = _counted(request, form.cleaned_data["name"])
        if not allowance.allowed:
            return _too_often(request, allowance)
        try:
            sessions.open_for(request, accounts.sign_in(**form.cleaned_data), way="password")
        except BenchnightError as error:
            _turned_away(request, "password", error.code, form.cleaned_data["name"])
            faults.show(form, error)
        else:
            return HttpResponseRedirect(wanted)
    status = 422 if form.errors else 200
    return door.render(request, "sign_in.html", {"form": form, "next": wanted}, status=status)


def link(request: HttpRequest, _viewer: Viewer, secret: str) -> HttpResponse:
    """GET: a button, so that a link preview does not use the link up. POST: use it."""
    if request.method != "POST":
        return door.render(request, "sign_in_link.html")
    allowance = _counted(request)
    if not allowance.allowed:
        return _too_often(request, allowance)
    try:
        sessions.open_for(request, accounts.redeem_link(secret=secret), way=sessions.LINK)
    except BenchnightError as error:
        _turned_away(request, "link", error.code)
        raise
    messages.success(
        request, "You are signed in. Choose a password below to sign in without a link next time."
    )
    return HttpResponseRedirect(reverse("pages:account"))


def sign_out(request: HttpRequest, _viewer: Viewer) -> HttpResponse:
    """POST: sign out."""
    sessions.close(request)
    messages.success(request, "You are signed out.")
    return sessions.forgotten(HttpResponseRedirect(reverse("pages:home")))


def _turned_away(request: HttpRequest, way: str, reason: str, account: str = "") -> None:
    address = request.META.get("REMOTE_ADDR", "")
    watch.turned_away(way=way, reason=reason, account=account, address=address)


def _counted(request: HttpRequest, name: str = "") -> throttle.Allowance:
    """One attempt, counted under keyed hashes; the answer is the strictest.

    Counted for this account from this address; for the address, so that one password is not tried on every
    account; and for the account, so that many addresses do not try it together. name: empty for links.
    """
    address, limit = request.META.get("REMOTE_ADDR", ""), settings.BENCHNIGHT_SIGN_IN_PER_MINUTE
    wide = {f"|{address}"} | ({f"{name.casefold()}|"} if name else set())
    taken = [_taken(f"{name.casefold()}|{address}|both", limit)]
    taken += [_taken(who, limit * TOGETHER) for who in sorted(wide)]
    return min(taken, key=lambda each: (each.allowed, each.remaining))


def _taken(who: str, limit: int) -> throttle.Allowance:
    key = salted_hmac("pages.sign_in", who, algorithm="sha256").hexdigest()[:32]
    return throttle.take(f"sign_in:{key}", limit=limit, window_s=MINUTE_S)


def _too_often(request: HttpRequest, allowance: throttle.Allowance) -> HttpResponse:
    detail = (
        f"Signing in can be tried {allowance.limit} times a minute. "
        f"Wait {allowance.reset_s} seconds and try again."
    )
    response = door.refusal(request, 429, detail, reason="limit.sign_in")
    response["Retry-After"] = str(allowance.reset_s)
    return response
