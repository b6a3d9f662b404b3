"""The account's second factors: passkeys, an app for codes, recovery codes."""

from __future__ import annotations

import json

import segno
from django.conf import settings
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.accounts.factor_forms import CodeAppForm, PasskeyForm
from measurements.pages.layout import form_handling, rendering
from measurements.selectors.accounts import second_factors as own_factors
from measurements.services.accounts import one_time_codes, passkeys, recovery_codes, second_factors

NEW_APP = "new_code_app"  # in the session: the encrypted secret of an app that no code confirmed yet
NEW_PASSKEY_STATE = "new_passkey_state"


def show_second_factor(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the account's second factors. POST: remove one, or make new recovery codes."""
    if request.method == "POST":
        try:
            return _apply_action(request, viewer)
        except BenchnightError as error:
            if error.kind != "conflict":
                raise
            messages.warning(request, error.detail)
            return HttpResponseRedirect(reverse("pages:second_factor"))
    context = {
        "factors": own_factors.get_second_factors(viewer),
        "possible": passkeys.are_passkeys_possible(),
        "must": viewer.role in settings.BENCHNIGHT_SECOND_FACTOR_FOR,
    }
    return rendering.render_page(request, "accounts/second_factor.html", context)


def _apply_action(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    act = request.POST.get("act", "")
    _check_factor_shown(request, viewer)
    if act == "recovery" and second_factors.has_second_factor(viewer.member_id):
        return _render_recovery_codes(request, viewer)
    if act == "remove_passkey":
        second_factors.remove_passkey(by=viewer, key=request.POST.get("passkey", ""))
    elif act == "remove_app":
        second_factors.remove_code_app(by=viewer)
    else:
        raise BenchnightError("account.unknown_act", "Choose one of the buttons.", kind="conflict")
    if not second_factors.has_second_factor(viewer.member_id):
        request.session.pop(second_factors.PASSED, None)
    messages.success(request, "It is removed.")
    return HttpResponseRedirect(reverse("pages:second_factor"))


def _check_factor_shown(request: HttpRequest, viewer: Viewer) -> None:
    """Check that a session that only waits does not change the factor that it waits for."""
    waiting = second_factors.is_session_waiting(request.session, viewer.role)
    if waiting and second_factors.has_second_factor(viewer.member_id):
        raise BenchnightError(
            "account.second_step", "Show your second factor first: sign in again.", kind="forbidden"
        )


def show_code_app(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the secret of a new app, as a picture and as text. POST: the app's first code."""
    _check_factor_shown(request, viewer)
    encrypted = request.session.get(NEW_APP) or one_time_codes.make_secret()
    request.session[NEW_APP] = encrypted
    form = CodeAppForm(request.POST if request.method == "POST" else None)
    first = not second_factors.has_second_factor(viewer.member_id)
    if form.is_valid():
        try:
            one_time_codes.add_code_app(by=viewer, encrypted=encrypted, code=form.cleaned_data["code"])
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            request.session.pop(NEW_APP)
            return _finish(request, viewer, first=first, said="The app is set up.")
    secret = one_time_codes.describe_secret(by=viewer, encrypted=encrypted)
    picture = segno.make(secret.address, error="m", micro=False).svg_data_uri(
        scale=4, border=4, light="white"
    )
    context = {"form": form, "secret": secret, "picture": picture}
    return rendering.render_page(
        request, "accounts/code_app.html", context, status=422 if form.errors else 200
    )


def show_passkey(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what the browser makes a passkey from. POST: its reply."""
    _check_factor_shown(request, viewer)
    if not passkeys.are_passkeys_possible():
        return HttpResponseRedirect(reverse("pages:second_factor"))
    form = PasskeyForm(request.POST if request.method == "POST" else None)
    first = not second_factors.has_second_factor(viewer.member_id)
    if form.is_valid():
        try:
            passkeys.add_passkey(
                by=viewer,
                state=request.session.pop(NEW_PASSKEY_STATE, None),
                reply=request.POST.get("passkey", ""),
                label=form.cleaned_data["label"],
            )
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            return _finish(request, viewer, first=first, said="The passkey is set up.")
    options, request.session[NEW_PASSKEY_STATE] = passkeys.begin_registration(by=viewer)
    context = {"form": form, "passkey_options": json.dumps(options)}
    return rendering.render_page(
        request, "accounts/passkey.html", context, status=422 if form.errors else 200
    )


def _finish(request: HttpRequest, viewer: Viewer, *, first: bool, said: str) -> HttpResponse:
    """Let the session go on; the account's first factor comes with its recovery codes."""
    request.session[second_factors.PASSED] = True
    messages.success(request, said)
    if first:
        return _render_recovery_codes(request, viewer)
    return HttpResponseRedirect(reverse("pages:second_factor"))


def _render_recovery_codes(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """Show the codes in the reply to the form: no cache keeps it and no address brings it back."""
    codes = recovery_codes.renew_recovery_codes(by=viewer)
    return rendering.render_page(request, "accounts/recovery_codes.html", {"codes": codes})
