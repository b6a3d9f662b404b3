"""The own account: who one is here, what is published of one, password, signing in and out."""

from __future__ import annotations

import tempfile
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.accounts import browser_sessions, published_tables, reauthentication, second_sign_in
from measurements.pages.accounts.forms import (
    DeleteAccountForm,
    EndSessionForm,
    PasswordForm,
    SignInForm,
    TokenForm,
)
from measurements.pages.layout import form_handling, numbered_pages, rendering, throttling
from measurements.selectors.accounts import account_export, credentials
from measurements.selectors.evidence import evidence
from measurements.selectors.releases import releases
from measurements.services.accounts import access_tokens, accounts, membership, second_factors
from measurements.services.operations import use_counts


def show_account(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the account. POST: change the password."""
    asked = reauthentication.get_required_proof(request, viewer)
    data = request.POST if request.method == "POST" else None
    form = PasswordForm(data, asks_present=asked == reauthentication.PASSWORD)
    status = 200
    if request.method == "POST":
        if too_often := reauthentication.verify_proof(request, viewer, form, asked):
            return too_often
        if form.is_valid() and _change_password(request, viewer, form):
            return HttpResponseRedirect(reverse("pages:account"))
        status = 422
    context = {
        "form": form,
        "asked": asked,
        **_build_published_context(request, viewer),
        "crowded": evidence.list_crowded_designs(viewer),
        "release": releases.get_current_release(),
    }
    return rendering.render_page(request, "accounts/account.html", context, status=status)


PUBLISHED_ON_A_PAGE = 8  # devices; each is a table of ninety elements


def _build_published_context(request: HttpRequest, viewer: Viewer) -> dict[str, Any]:
    """Collect one page of the published devices: `published` in the address is its number, from 1."""
    number = numbered_pages.get_page_number(request, "published")
    found = evidence.get_published_page(
        viewer, first=(number - 1) * PUBLISHED_ON_A_PAGE, most=PUBLISHED_ON_A_PAGE
    )
    links = numbered_pages.list_page_links(request, found.count, PUBLISHED_ON_A_PAGE, name="published")
    return {
        "published": published_tables.list_published_tables(found.rows),
        "published_count": found.count,
        "published_pages": links,
    }


def _change_password(request: HttpRequest, viewer: Viewer, form: PasswordForm) -> bool:
    try:
        accounts.set_password(by=viewer, password=form.cleaned_data["password"])
    except BenchnightError as error:
        form_handling.add_error_to_form(form, error)
        return False
    # a new password ends every other session of the account; this one goes on under a new key
    shown = bool(request.session.get(second_factors.PASSED))
    member_id = int(viewer.member_id or 0)  # signed in
    browser_sessions.open_session(request, member_id, way="new password", second_factor=shown)
    messages.success(request, "Your password is changed.")
    return True


def show_sign_in(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: name and password. POST: sign in and go on to `next`."""
    wanted = browser_sessions.get_safe_redirect(
        request, request.POST.get("next") or request.GET.get("next") or "/"
    )
    if viewer.signed_in and request.method != "POST":
        return HttpResponseRedirect(wanted)
    form = SignInForm(request.POST if request.method == "POST" else None)
    if request.method == "POST" and form.is_valid():
        if too_often := throttling.limit_sign_in_attempts(request, form.cleaned_data["name"]):
            return too_often
        try:
            member_id = accounts.authenticate_member(**form.cleaned_data)
            return second_sign_in.enter_account(request, member_id, way="password", wanted=wanted)
        except BenchnightError as error:
            throttling.note_failed_sign_in(request, "password", error.code, form.cleaned_data["name"])
            form_handling.add_error_to_form(form, error)
    status = 422 if form.errors else 200
    return rendering.render_page(
        request, "accounts/sign_in.html", {"form": form, "next": wanted}, status=status
    )


def show_sign_in_link(request: HttpRequest, _viewer: Viewer, secret: str) -> HttpResponse:
    """GET: a button, so that a link preview does not use the link up. POST: use it."""
    if request.method != "POST":
        return rendering.render_page(request, "accounts/sign_in_link.html")
    if too_often := throttling.limit_sign_in_attempts(request):
        return too_often
    try:
        answer = second_sign_in.enter_account(
            request,
            accounts.redeem_sign_in_link(secret=secret),
            way=browser_sessions.LINK,
            wanted=reverse("pages:account"),
            from_server=accounts.was_link_made_on_server(secret=secret),
        )
    except BenchnightError as error:
        throttling.note_failed_sign_in(request, "link", error.code)
        raise
    if request.user.is_authenticated:
        messages.success(
            request, "You are signed in. Choose a password below to sign in without a link next time."
        )
    return answer


def sign_out(request: HttpRequest, _viewer: Viewer) -> HttpResponse:
    """POST: sign out."""
    browser_sessions.close_session(request)
    messages.success(request, "You are signed out.")
    return browser_sessions.clear_browser_data(HttpResponseRedirect(reverse("pages:home")))


# Of the own account: a copy of everything, signing out everywhere, deleting it.

COPIES_AN_HOUR, HOUR_S = 6, 3600

IN_MEMORY_BYTES = 4 * 1024 * 1024


def download_account_copy(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """POST: everything that is stored of the account, as a zip; some times an hour, because it is work."""
    allowance = use_counts.count_use(f"copy:{viewer.member_id}", limit=COPIES_AN_HOUR, window_s=HOUR_S)
    if not allowance.allowed:
        detail = f"A copy can be made {allowance.limit} times an hour. Wait {allowance.reset_s} seconds."
        response = rendering.render_refusal(request, 429, detail, reason="limit.copies")
        response["Retry-After"] = str(allowance.reset_s)
        return response
    target = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES)  # noqa: SIM115  # the answer closes it
    account_export.write_account_export(viewer, target)
    target.seek(0)
    name = f"benchnight-account-{timezone.localdate().isoformat()}.zip"
    return FileResponse(target, as_attachment=True, filename=name, content_type="application/zip")


def sign_out_everywhere(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """POST: end every session of the account, this one too."""
    membership.sign_out_everywhere(by=viewer)
    browser_sessions.close_session(request)
    messages.success(request, "You are signed out on every browser.")
    return browser_sessions.clear_browser_data(HttpResponseRedirect(reverse("pages:sign_in")))


def show_account_deletion(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what deleting means. POST: delete the account with all that is its."""
    asks = accounts.has_password(viewer)
    if request.method == "POST" and not asks:
        reauthentication.check_recent_link(request, viewer)
    form = DeleteAccountForm(request.POST if request.method == "POST" else None, asks_password=asks)
    if (
        request.method == "POST"
        and asks
        and (too_often := throttling.limit_sign_in_attempts(request, viewer.name))
    ):
        return too_often
    if request.method == "POST" and form.is_valid():
        try:
            membership.delete_account(by=viewer, **form.cleaned_data)
        except BenchnightError as error:
            if error.code == "account.password_differs":
                throttling.note_failed_sign_in(request, "password", error.code, viewer.name)
            form_handling.add_error_to_form(form, error)
        else:
            browser_sessions.close_session(request)
            messages.success(request, "Your account is deleted, with everything that was stored of it.")
            return browser_sessions.clear_browser_data(HttpResponseRedirect(reverse("pages:home")))
    context = {
        "form": form,
        "published": evidence.get_published_page(viewer, most=0).count,
        "min_joiners": settings.BENCHNIGHT_MIN_JOINERS,
    }
    return rendering.render_page(request, "accounts/delete.html", context, status=422 if form.errors else 200)


# Where the account is signed in: every browser, by when; ending one of them.


def show_own_sessions(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the list. POST: end another one than this."""
    here = request.session.session_key or ""
    rows = credentials.list_sessions(viewer, here=here)
    asked = reauthentication.get_required_proof(request, viewer)
    data = request.POST if request.method == "POST" else None
    others = [row for row in rows if not row.here]
    form = EndSessionForm(data, others=others, asks_present=asked == reauthentication.PASSWORD)
    if request.method == "POST":
        if too_often := reauthentication.verify_proof(request, viewer, form, asked):
            return too_often
        if form.is_valid():
            try:
                key = credentials.find_session_key(viewer, form.cleaned_data["session"])
                membership.end_session(by=viewer, key=key or "")
            except BenchnightError as error:
                form_handling.add_error_to_form(form, error)
            else:
                messages.success(request, "That browser is signed out.")
                return HttpResponseRedirect(reverse("pages:own_sessions"))
    context = {"rows": rows, "others": others, "form": form, "asked": asked}
    return rendering.render_page(
        request, "accounts/sessions.html", context, status=422 if form.errors else 200
    )


# The member's access tokens: made and shown once, listed, revoked.


def show_tokens(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the list and a form. POST: make one; the reply is the only place where it ever stands."""
    asked, made = reauthentication.get_required_proof(request, viewer), None
    again = {"asks_present": asked == reauthentication.PASSWORD}
    form = TokenForm(request.POST if request.method == "POST" else None, **again)
    if request.method == "POST":
        if too_often := reauthentication.verify_proof(request, viewer, form, asked):
            return too_often
        made = _create_token(viewer, form)
    context = {
        "form": TokenForm(**again) if made else form,
        "asked": asked,
        "made": made,
        "tokens": credentials.list_access_tokens(viewer),
        "site": request.build_absolute_uri("/").rstrip("/"),
    }
    return rendering.render_page(request, "accounts/tokens.html", context, status=422 if form.errors else 200)


def submit_token_revocation(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """POST: end one at once."""
    access_tokens.revoke_token(by=viewer, key=request.POST.get("token", ""))
    messages.success(request, "The token is revoked: whatever still sends it is refused from now on.")
    return HttpResponseRedirect(reverse("pages:tokens"))


def _create_token(viewer: Viewer, form: TokenForm) -> str | None:
    if not form.is_valid():
        return None
    try:
        return access_tokens.issue_token(by=viewer, name=viewer.name, **form.said())
    except BenchnightError as error:
        form_handling.add_error_to_form(form, error)
        return None
