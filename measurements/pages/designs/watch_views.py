"""Watching a design: the private feed says when a release changes one of its verdicts."""

from __future__ import annotations

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.viewers import Viewer
from measurements.pages.layout import rendering
from measurements.selectors.designs import designs, watched
from measurements.services.designs import watching

STOP = "stop"


def show_watching(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: whether the reader watches a design, and what else. POST: watch it, or stop."""
    row = designs.get_design(viewer, key)
    if request.method == "POST":
        write = watching.stop_watching_design if request.POST.get("act") == STOP else watching.watch_design
        write(by=viewer, design=row.key)
        return HttpResponseRedirect(reverse("pages:design_watch", kwargs={"key": row.key}))
    context = {
        "design": row,
        "watched": watched.list_watched_designs(viewer),
        "here": watched.is_watched(viewer, row.key),
    }
    return rendering.render_page(request, "designs/watch.html", context)
