"""What is due as a calendar: making and revoking addresses, and the feed itself."""

from __future__ import annotations

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import calendar_feeds as register
from measurements.pages import door, due_calendar, faults, proof
from measurements.pages.forms.upkeep import FeedForm
from measurements.queries import calendar_feeds, service_list
from measurements.queries.service_list import Wanted


def addresses(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the addresses in use. POST: make one (it is shown in the answer, once), or revoke one."""
    asked, address = proof.wanted(request, viewer), ""
    again = {"asks_present": asked == proof.PASSWORD}
    form = FeedForm(request.POST if request.POST.get("do") == "make" else None, **again)
    if request.method == "POST" and request.POST.get("do") == "revoke":
        register.revoke(by=viewer, feed=request.POST.get("feed", ""))
        messages.success(request, "The address is revoked: nobody can read it any more.")
        return HttpResponseRedirect(reverse("pages:calendar"))
    if form.is_bound and (too_often := proof.checked(request, viewer, form, asked)):
        return too_often
    if form.is_bound and form.is_valid():
        try:
            secret = register.make(by=viewer, label=form.cleaned_data["label"])
        except BenchnightError as error:
            faults.show(form, error)
        else:
            path = reverse("pages:calendar_feed", kwargs={"secret": secret})
            address, form = request.build_absolute_uri(path), FeedForm(**again)
    context = {"form": form, "asked": asked, "address": address, "feeds": calendar_feeds.listing(viewer)}
    return door.render(request, "calendar.html", context, status=422 if form.errors else 200)


def feed(request: HttpRequest, _viewer: Viewer, secret: str) -> HttpResponse:
    """GET: the calendar of whoever made this address; whoever has the address can read it."""
    owner = register.opened(secret=secret)
    found = service_list.listing(owner, Wanted())
    site = request.build_absolute_uri("/").rstrip("/")
    content = due_calendar.build(found.rows, site=site)
    response = HttpResponse(content, content_type="text/calendar; charset=utf-8")
    response["Content-Disposition"] = 'attachment; filename="benchnight-due.ics"'
    response["Referrer-Policy"] = "no-referrer"
    response["X-Robots-Tag"] = "noindex"
    return response
