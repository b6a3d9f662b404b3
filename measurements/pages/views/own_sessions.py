"""Where the account is signed in: every browser, by when; ending one of them."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import membership
from measurements.pages import door, faults, proof
from measurements.pages.forms.account import EndSessionForm
from measurements.queries import signed_in


def own_sessions(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the list. POST: end another one than this."""
    here = request.session.session_key or ""
    rows = signed_in.of_viewer(viewer, here=here)
    asked = proof.wanted(request, viewer)
    data = request.POST if request.method == "POST" else None
    others = [row for row in rows if not row.here]
    form = EndSessionForm(data, others=others, asks_present=asked == proof.PASSWORD)
    if request.method == "POST":
        if too_often := proof.checked(request, viewer, form, asked):
            return too_often
        if form.is_valid():
            try:
                key = signed_in.key_of(viewer, form.cleaned_data["session"])
                membership.end_session(by=viewer, key=key or "")
            except BenchnightError as error:
                faults.show(form, error)
            else:
                messages.success(request, "That browser is signed out.")
                return HttpResponseRedirect(reverse("pages:own_sessions"))
    context = {"rows": rows, "others": others, "form": form, "asked": asked}
    return door.render(request, "own_sessions.html", context, status=422 if form.errors else 200)
