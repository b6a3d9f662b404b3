"""The member's access tokens: made and shown once, listed, revoked."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import access_tokens as register
from measurements.pages import door, faults, proof
from measurements.pages.forms.token import TokenForm
from measurements.queries import access_tokens


def tokens(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the list and a form. POST: make one; the reply is the only place where it ever stands."""
    asked, made = proof.wanted(request, viewer), None
    again = {"asks_present": asked == proof.PASSWORD}
    form = TokenForm(request.POST if request.method == "POST" else None, **again)
    if request.method == "POST":
        if too_often := proof.checked(request, viewer, form, asked):
            return too_often
        made = _made(viewer, form)
    context = {
        "form": TokenForm(**again) if made else form,
        "asked": asked,
        "made": made,
        "tokens": access_tokens.of_viewer(viewer),
        "site": request.build_absolute_uri("/").rstrip("/"),
    }
    return door.render(request, "tokens.html", context, status=422 if form.errors else 200)


def revoke(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """POST: end one at once."""
    register.revoke(by=viewer, key=request.POST.get("token", ""))
    messages.success(request, "The token is revoked: whatever still sends it is refused from now on.")
    return HttpResponseRedirect(reverse("pages:tokens"))


def _made(viewer: Viewer, form: TokenForm) -> str | None:
    if not form.is_valid():
        return None
    try:
        return register.issue(by=viewer, name=viewer.name, **form.said())
    except BenchnightError as error:
        faults.show(form, error)
        return None
