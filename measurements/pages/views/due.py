"""After a storm: many devices are marked as due at once."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure import policy
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import due
from measurements.pages import cautions, door, faults, words_of_upkeep
from measurements.pages.forms.upkeep import DueForm
from measurements.queries import service_list
from measurements.queries.service_list import Wanted


def mark(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: choose devices. POST: mark them, or take marks back."""
    policy.check_operator(viewer)
    form = DueForm(request.POST if request.method == "POST" else None)
    chosen = request.POST.getlist("devices")
    if request.method == "POST" and form.is_valid():
        try:
            if request.POST.get("do") == "clear":
                due.clear(by=viewer, devices_marked=chosen)
                messages.success(request, "The marks are taken back.")
            else:
                count = due.mark(by=viewer, devices_marked=chosen, reason=form.cleaned_data["reason"])
                messages.success(request, f"Marked as due: {count}.")
        except BenchnightError as error:
            if error.kind == "not_found":
                raise
            faults.show(form, error)
        else:
            return HttpResponseRedirect(f"{reverse('pages:devices')}?state=due")
    text = request.GET.get("q", "").replace("\x00", "").strip()[:64]
    found = service_list.listing(viewer, Wanted(text=text))
    context = {
        "form": form,
        "text": text,
        "devices": [
            (row, words_of_upkeep.STATES[row.state], row.key in chosen)
            for row in sorted(found.rows, key=lambda row: (row.place, row.tag))
        ],
        "cautions": cautions.AFTER_STORM,
    }
    return door.render(request, "devices_due.html", context, status=422 if form.errors else 200)
