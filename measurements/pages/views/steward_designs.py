"""Stewards merge what is one and the same: typed core sizes with listed cores, designs with designs."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import merging
from measurements.pages import door, faults, posting, steward_words
from measurements.pages.forms.steward import CoreForm, MergeForm
from measurements.queries import merge_candidates, reference

SIZES = ("outer_mm", "inner_mm", "height_mm")


def candidates(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: what may be one and the same."""
    context = {
        "pairs": [
            (row, steward_words.devices(row.devices), steward_words.devices(row.into_devices))
            for row in merge_candidates.pairs(viewer)
        ],
        "cores": [
            (row, steward_words.size(row.outer_mm, row.inner_mm, row.height_mm))
            for row in merge_candidates.typed_cores(viewer)
        ],
        "form": MergeForm(),
    }
    return door.render(request, "steward_designs.html", context)


def merge(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: two designs side by side, and what merging means. POST: merge them."""
    form = MergeForm(request.POST if request.method == "POST" else request.GET or None)
    both: tuple[Any, ...] = ()
    if form.is_valid():
        try:
            both = tuple(
                merge_candidates.design(viewer, form.cleaned_data[name]) for name in ("design", "into")
            )
        except BenchnightError as error:
            faults.show(form, error)
    if request.method == "POST" and both:
        answer = posting.written(
            request,
            form,
            lambda: merging.merge_designs(by=viewer, **form.cleaned_data),
            said="The two are one design now. The evidence follows with the next release.",
            target=reverse("pages:design", kwargs={"key": both[1].key}),
        )
        if answer is not None:
            return answer
    context = {
        "form": form,
        "both": [(row, steward_words.devices(row.devices)) for row in both],
        "swapped": f"?design={both[1].key}&into={both[0].key}" if both else "",
    }
    return door.render(request, "steward_merge.html", context, status=422 if form.errors else 200)


def core(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: a typed size beside the listed cores near it. POST: it is that core from now on."""
    given = request.POST if request.method == "POST" else request.GET
    near = {
        tuple(str(getattr(row, name)) for name in ("shape", "mix", *SIZES)): row
        for row in merge_candidates.typed_cores(viewer)
    }
    row = near.get(tuple(str(given.get(name, "")) for name in ("shape", "mix", *SIZES)))
    if row is None:
        raise BenchnightError(
            "core.size_unused",
            "No design has a core of exactly this size, or it was named meanwhile.",
            kind="not_found",
        )
    listed = {each.part: each for each in reference.cores()}
    parts = [(each.part, _part(each, listed)) for each in row.near]
    form = CoreForm(parts, request.POST if request.method == "POST" else None, initial=vars(row))
    if request.method == "POST":
        answer = posting.written(
            request,
            form,
            lambda: merging.name_core(by=viewer, **form.cleaned_data),
            said="The size is that core now. Designs that had it carry its part number, or are merged.",
            target=reverse("pages:steward_designs"),
        )
        if answer is not None:
            return answer
    context = {
        "form": form,
        "row": row,
        "size": steward_words.size(row.outer_mm, row.inner_mm, row.height_mm),
    }
    return door.render(request, "steward_core.html", context, status=422 if form.errors else 200)


def _part(near: Any, listed: dict[str, Any]) -> str:
    size = steward_words.size(near.outer_mm, near.inner_mm, near.height_mm)
    mix = listed[near.part].mix
    return f"{near.part}, mix {mix}, {size}, {near.off_percent:.1f} % off"
