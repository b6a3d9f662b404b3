"""Of the own account: a copy of everything, signing out everywhere, deleting it."""

from __future__ import annotations

import tempfile

from django.contrib import messages
from django.http import FileResponse, HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse
from django.utils import timezone

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import accounts, leaving, membership, throttle
from measurements.pages import door, faults, sessions, tries
from measurements.pages.forms.account import LeaveForm
from measurements.queries import own_copy, published

COPIES_AN_HOUR, HOUR_S = 6, 3600
IN_MEMORY_BYTES = 4 * 1024 * 1024


def copy(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """POST: everything that is stored of the account, as a zip; some times an hour, because it is work."""
    allowance = throttle.take(f"copy:{viewer.member_id}", limit=COPIES_AN_HOUR, window_s=HOUR_S)
    if not allowance.allowed:
        detail = f"A copy can be made {allowance.limit} times an hour. Wait {allowance.reset_s} seconds."
        response = door.refusal(request, 429, detail, reason="limit.copies")
        response["Retry-After"] = str(allowance.reset_s)
        return response
    target = tempfile.SpooledTemporaryFile(max_size=IN_MEMORY_BYTES)  # noqa: SIM115  # the answer closes it
    own_copy.write(viewer, target)
    target.seek(0)
    name = f"benchnight-account-{timezone.now().date().isoformat()}.zip"
    return FileResponse(target, as_attachment=True, filename=name, content_type="application/zip")


def sign_out_everywhere(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """POST: end every session of the account, this one too."""
    membership.sign_out_everywhere(by=viewer)
    sessions.close(request)
    messages.success(request, "You are signed out on every browser.")
    return sessions.forgotten(HttpResponseRedirect(reverse("pages:sign_in")))


def delete(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what deleting means. POST: delete the account with all that is its."""
    asks = accounts.has_password(viewer)
    form = LeaveForm(request.POST if request.method == "POST" else None, asks_password=asks)
    if request.method == "POST" and asks and (too_often := tries.refused(request, viewer.name)):
        return too_often
    if request.method == "POST" and form.is_valid():
        try:
            leaving.delete_account(by=viewer, **form.cleaned_data)
        except BenchnightError as error:
            if error.code == "account.password_differs":
                tries.failed(request, "password", error.code, viewer.name)
            faults.show(form, error)
        else:
            sessions.close(request)
            messages.success(request, "Your account is deleted, with everything that was stored of it.")
            return sessions.forgotten(HttpResponseRedirect(reverse("pages:home")))
    context = {"form": form, "published": published.of_viewer(viewer)}
    return door.render(request, "account_delete.html", context, status=422 if form.errors else 200)
