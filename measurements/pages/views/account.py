"""The own account: who one is here, what is published of one, password, signing in and out."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import accounts
from measurements.pages import door, faults, proof, sessions, tries
from measurements.pages.forms.account import PasswordForm, SignInForm
from measurements.queries import published, releases


def account(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the account. POST: change the password."""
    asked = proof.wanted(request, viewer)
    data = request.POST if request.method == "POST" else None
    form = PasswordForm(data, asks_present=asked == proof.PASSWORD)
    status = 200
    if request.method == "POST":
        if too_often := proof.checked(request, viewer, form, asked):
            return too_often
        if form.is_valid() and _password_changed(request, viewer, form):
            return HttpResponseRedirect(reverse("pages:account"))
        status = 422
    context = {
        "form": form,
        "asked": asked,
        "published": published.of_viewer(viewer),
        "crowded": published.crowded(viewer),
        "release": releases.current(),
    }
    return door.render(request, "account.html", context, status=status)


def _password_changed(request: HttpRequest, viewer: Viewer, form: PasswordForm) -> bool:
    try:
        accounts.set_password(by=viewer, password=form.cleaned_data["password"])
    except BenchnightError as error:
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
        if too_often := tries.refused(request, form.cleaned_data["name"]):
            return too_often
        try:
            sessions.open_for(request, accounts.sign_in(**form.cleaned_data), way="password")
        except BenchnightError as error:
            tries.failed(request, "password", error.code, form.cleaned_data["name"])
            faults.show(form, error)
        else:
            return HttpResponseRedirect(wanted)
    status = 422 if form.errors else 200
    return door.render(request, "sign_in.html", {"form": form, "next": wanted}, status=status)


def link(request: HttpRequest, _viewer: Viewer, secret: str) -> HttpResponse:
    """GET: a button, so that a link preview does not use the link up. POST: use it."""
    if request.method != "POST":
        return door.render(request, "sign_in_link.html")
    if too_often := tries.refused(request):
        return too_often
    try:
        sessions.open_for(request, accounts.redeem_link(secret=secret), way=sessions.LINK)
    except BenchnightError as error:
        tries.failed(request, "link", error.code)
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
