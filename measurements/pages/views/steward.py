"""What stewards have to look at: the overview, the queue of flagged tests, deciding about one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import test_chart
from measurements.disclosure.circles import Viewer
from measurements.ingest import review
from measurements.pages import bench, door, posting, steward_words, words
from measurements.pages.forms.steward import ReasonForm
from measurements.queries import group_settings, members, merge_candidates, releases, tests
from measurements.queries import review as reviews
from measurements.queries.review import ReviewRow

PAGE_SIZE = 25


def overview(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: how much of what needs a look."""
    counts = reviews.counts(viewer)
    context = {
        "counts": counts,
        "most": reviews.MOST_COUNTED,
        "pairs": len(merge_candidates.pairs(viewer)),
        "cores": len(merge_candidates.typed_cores(viewer)),
        "stewards": members.stewards(viewer),
        "changed": [row for row in group_settings.listing() if not row.is_house_default],
        "release": releases.current(),
    }
    return door.render(request, "steward.html", context)


def queue(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: flagged tests, the newest first. POST: one of them is looked at."""
    if request.method == "POST":
        review.mark_reviewed(by=viewer, test=request.POST.get("test", ""))
        messages.success(request, steward_words.ACTIONS["review"])
        return HttpResponseRedirect(reverse("pages:steward_tests"))
    asked = request.GET.get("which", "open")
    which = next((each for each in reviews.WHICH if each == asked), "open")
    page = reviews.queue(viewer, which, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    context = {
        "lines": [(row, words.method(row.kind, row.method), flags(row)) for row in page.results],
        "which": which,
        "queues": steward_words.QUEUES.items(),
        "next_page": f"?which={which}&cursor={page.next_cursor}" if page.next_cursor else "",
    }
    return door.render(request, "steward_tests.html", context)


def one(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a test with what may be decided about it. POST: exclude, include, or looked at."""
    form = ReasonForm()
    if request.method == "POST":
        form, answer = _decided(request, viewer, key)
        if answer is not None:
            return answer
    row = reviews.one(viewer, key)
    context: dict[str, Any] = {
        "form": form,
        "row": row,
        "kind_words": words.method(row.kind, row.method),
        "flags": flags(row),
        "views": [
            (panel.name, words.CHART_NOTES[row.kind, panel.name])
            for panel in test_chart.views(row.kind, tests.traces(viewer, key))
        ],
        "chart_address": reverse("pages:test_chart", kwargs={"key": key, "form": "json"}),
        "picture_address": reverse("pages:test_chart", kwargs={"key": key, "form": "svg"}),
    }
    return door.render(request, "steward_test.html", context, status=422 if form.errors else 200)


def _decided(request: HttpRequest, viewer: Viewer, key: str) -> tuple[ReasonForm, HttpResponse | None]:
    form, act = ReasonForm(request.POST), request.POST.get("act")
    target = reverse("pages:steward_test", kwargs={"key": key})
    if act == "exclude":
        answer = posting.written(
            request,
            form,
            lambda: review.exclude(by=viewer, test=key, reason=form.cleaned_data["reason"]),
            said=steward_words.ACTIONS["exclude"],
            target=target,
        )
        return form, answer
    (review.include if act == "include" else review.mark_reviewed)(by=viewer, test=key)
    messages.success(request, steward_words.ACTIONS["include" if act == "include" else "review"])
    return form, HttpResponseRedirect(target)


def flags(row: ReviewRow) -> list[tuple[str, str, str]]:
    """Severity in words, sentence, and bands, of the flags that ask for a look; one sentence said once."""
    said: dict[tuple[str, str], list[str]] = {}
    for flag in row.flags:
        bands = said.setdefault((words.SEVERITIES[flag["severity"]], bench.in_words(flag["message"])), [])
        if flag["band"]:
            bands.append(flag["band"])
    return [(severity, message, ", ".join(bands)) for (severity, message), bands in said.items()]
