"""What stewards have to look at: the overview, the queue of flagged tests, deciding about one."""

from __future__ import annotations

from typing import Any

from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.charts import test_chart
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import form_handling, procedures, rendering, wording
from measurements.pages.steward import presenters
from measurements.pages.steward.forms import CoreMatchForm, MergeForm, ReasonForm
from measurements.selectors.accounts import members, security_digest
from measurements.selectors.designs import merge_candidates
from measurements.selectors.reference import reference
from measurements.selectors.releases import releases
from measurements.selectors.tests import review as review_selectors
from measurements.selectors.tests import tests
from measurements.selectors.tests.review import ReviewRow
from measurements.services.accounts import security_log
from measurements.services.designs import merging
from measurements.services.tests import review as review_services

PAGE_SIZE = 25


def show_steward_overview(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: how much of what needs a look."""
    counts = review_selectors.count_reviews(viewer)
    context = {
        "counts": counts,
        "most": review_selectors.MOST_COUNTED,
        "pairs": len(merge_candidates.list_merge_pairs(viewer)),
        "cores": len(merge_candidates.list_typed_cores(viewer)),
        "stewards": members.count_stewards(viewer),
        "changed": [row for row in reference.list_settings() if not row.is_house_default],
        "release": releases.get_current_release(),
        "digest": security_digest.get_security_digest(viewer, compute_mark=security_log.compute_mark),
    }
    return rendering.render_page(request, "steward/overview.html", context)


def show_review_queue(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: flagged tests, the newest first. POST: one of them is looked at."""
    if request.method == "POST":
        review_services.mark_test_reviewed(by=viewer, test=request.POST.get("test", ""))
        messages.success(request, presenters.ACTION_MEANINGS["review"])
        return HttpResponseRedirect(reverse("pages:steward_tests"))
    asked = request.GET.get("which", "open")
    which = next((each for each in review_selectors.REVIEW_STATES if each == asked), "open")
    page = review_selectors.list_reviews(viewer, which, cursor=request.GET.get("cursor"), limit=PAGE_SIZE)
    context = {
        "lines": [
            (row, wording.format_method(row.kind, row.method), list_review_flags(row)) for row in page.results
        ],
        "which": which,
        "queues": presenters.REVIEW_QUEUES.items(),
        "next_page": f"?which={which}&cursor={page.next_cursor}" if page.next_cursor else "",
    }
    return rendering.render_page(request, "steward/tests.html", context)


def show_review(request: HttpRequest, viewer: Viewer, key: str) -> HttpResponse:
    """GET: a test with what may be decided about it. POST: exclude, include, or looked at."""
    form = ReasonForm()
    if request.method == "POST":
        form, answer = _apply_decision(request, viewer, key)
        if answer is not None:
            return answer
    row = review_selectors.get_review(viewer, key)
    context: dict[str, Any] = {
        "form": form,
        "row": row,
        "kind_words": wording.format_method(row.kind, row.method),
        "flags": list_review_flags(row),
        "views": [
            (panel.name, wording.CHART_NOTES[row.kind, panel.name])
            for panel in test_chart.list_panels(row.kind, tests.get_traces(viewer, key))
        ],
        "chart_address": reverse("pages:test_chart", kwargs={"key": key, "form": "json"}),
        "picture_address": reverse("pages:test_chart", kwargs={"key": key, "form": "svg"}),
    }
    return rendering.render_page(request, "steward/test.html", context, status=422 if form.errors else 200)


def _apply_decision(request: HttpRequest, viewer: Viewer, key: str) -> tuple[ReasonForm, HttpResponse | None]:
    form, act = ReasonForm(request.POST), request.POST.get("act")
    target = reverse("pages:steward_test", kwargs={"key": key})
    if act == "exclude":
        answer = form_handling.submit_form(
            request,
            form,
            lambda: review_services.exclude_test(by=viewer, test=key, reason=form.cleaned_data["reason"]),
            said=presenters.ACTION_MEANINGS["exclude"],
            target=target,
        )
        return form, answer
    (review_services.include_test if act == "include" else review_services.mark_test_reviewed)(
        by=viewer, test=key
    )
    messages.success(request, presenters.ACTION_MEANINGS["include" if act == "include" else "review"])
    return form, HttpResponseRedirect(target)


def list_review_flags(row: ReviewRow) -> list[tuple[str, str, str]]:
    """Return severity in words, sentence, and bands, of the flags that ask for a look; one sentence said
    once.
    """
    said: dict[tuple[str, str], list[str]] = {}
    for flag in row.flags:
        bands = said.setdefault(
            (wording.SEVERITIES[flag["severity"]], procedures.translate_roles(flag["message"])), []
        )
        if flag["band"]:
            bands.append(flag["band"])
    return [(severity, message, ", ".join(bands)) for (severity, message), bands in said.items()]


# Stewards merge what is one and the same: typed core sizes with listed cores, designs with designs.

TYPED_DIMENSIONS = ("outer_mm", "inner_mm", "height_mm")


def show_merge_candidates(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what may be one and the same."""
    context = {
        "pairs": [
            (
                row,
                presenters.format_device_count(row.devices),
                presenters.format_device_count(row.into_devices),
            )
            for row in merge_candidates.list_merge_pairs(viewer)
        ],
        "cores": [
            (row, presenters.format_core_dimensions(row.outer_mm, row.inner_mm, row.height_mm))
            for row in merge_candidates.list_typed_cores(viewer)
        ],
        "form": MergeForm(),
    }
    return rendering.render_page(request, "steward/designs.html", context)


def show_design_merge(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: two designs side by side, and what merging means. POST: merge them."""
    form = MergeForm(request.POST if request.method == "POST" else request.GET or None)
    both: tuple[Any, ...] = ()
    if form.is_valid():
        try:
            both = tuple(
                merge_candidates.get_merge_design(viewer, form.cleaned_data[name])
                for name in ("design", "into")
            )
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
    if request.method == "POST" and both:
        answer = form_handling.submit_form(
            request,
            form,
            lambda: merging.merge_designs(by=viewer, **form.cleaned_data),
            said="The two are one design now. Its evidence is renewed when three people new to both join.",
            target=reverse("pages:design", kwargs={"key": both[1].key}),
        )
        if answer is not None:
            return answer
    context = {
        "form": form,
        "both": [(row, presenters.format_device_count(row.devices)) for row in both],
        "swapped": f"?design={both[1].key}&into={both[0].key}" if both else "",
    }
    return rendering.render_page(request, "steward/merge.html", context, status=422 if form.errors else 200)


def show_core_match(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: a typed size beside the listed cores near it. POST: it is that core from now on."""
    given = request.POST if request.method == "POST" else request.GET
    near = {
        tuple(str(getattr(row, name)) for name in ("shape", "mix", *TYPED_DIMENSIONS)): row
        for row in merge_candidates.list_typed_cores(viewer)
    }
    row = near.get(tuple(str(given.get(name, "")) for name in ("shape", "mix", *TYPED_DIMENSIONS)))
    if row is None:
        raise BenchnightError(
            "core.size_unused",
            "No design has a core of exactly this size, or it was named meanwhile.",
            kind="not_found",
        )
    listed = {each.part: each for each in reference.list_cores()}
    parts = [(each.part, _describe_listed_core(each, listed)) for each in row.near]
    form = CoreMatchForm(parts, request.POST if request.method == "POST" else None, initial=vars(row))
    if request.method == "POST":
        answer = form_handling.submit_form(
            request,
            form,
            lambda: merging.name_typed_core(by=viewer, **form.cleaned_data),
            said="The size is that core now. Designs that had it carry its part number, or are merged.",
            target=reverse("pages:steward_designs"),
        )
        if answer is not None:
            return answer
    context = {
        "form": form,
        "row": row,
        "size": presenters.format_core_dimensions(row.outer_mm, row.inner_mm, row.height_mm),
    }
    return rendering.render_page(request, "steward/core.html", context, status=422 if form.errors else 200)


def _describe_listed_core(near: Any, listed: dict[str, Any]) -> str:
    size = presenters.format_core_dimensions(near.outer_mm, near.inner_mm, near.height_mm)
    mix = listed[near.part].mix
    return f"{near.part}, mix {mix}, {size}, {near.off_percent:.1f} % off"
