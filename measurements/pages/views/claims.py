"""A guest who has an account now types the code from the card: the devices become the account's own."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import guests
from measurements.pages import door, faults
from measurements.pages.forms.night import ClaimForm


def claim(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: where the code is typed. POST: claim the devices."""
    form = ClaimForm(request.POST if request.method == "POST" else None)
    if form.is_bound and form.is_valid():
        try:
            moved = guests.claim(by=viewer, code=form.cleaned_data["code"])
        except BenchnightError as error:
            faults.show(form, error)
        else:
            words = f"{moved} devices are yours now." if moved != 1 else "One device is yours now."
            messages.success(request, words)
            return HttpResponseRedirect(reverse("pages:devices"))
    return door.render(request, "claim.html", {"form": form}, status=422 if form.errors else 200)
