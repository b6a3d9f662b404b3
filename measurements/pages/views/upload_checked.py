"""Upload, second half: the checked result before anything is saved, and saving it."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import designs, devices, staging, tests, throttle
from measurements.ingest.stored import Stored
from measurements.pages import chart_scale, checking, door, drafts, faults
from measurements.pages.checking import Checked
from measurements.pages.drafts import Draft
from measurements.pages.forms.recipe import field_of
from measurements.pages.forms.upload import UploadForm
from measurements.pages.views import pictures
from measurements.pages.views.tests import drawn, shown
from measurements.pages.views.upload import form_page

HOUR_S = 3600


def checked(request: HttpRequest, viewer: Viewer, draft: str) -> HttpResponse:
    """GET: the result, what would be published, the button that saves. POST: save."""
    kept = drafts.find(request, draft)
    if request.POST.get("use_design"):
        return _with_design(request, draft, kept, request.POST["use_design"])
    form = checking.form_of(viewer, kept)
    found = checking.check(viewer, form)
    if found is None:
        return form_page(request, kept, form, status=422)
    if request.method != "POST":
        return _page(request, draft, found, form)
    if request.POST.get("agree") != "yes":
        return _page(request, draft, found, form, fault="Tick this to save the test.")
    return _saved(request, viewer, draft, kept, found, form)


def _with_design(request: HttpRequest, name: str, kept: Draft, design: str) -> HttpResponse:
    """The same upload as a device of a design that is here already."""
    drafts.forget(request, name)
    name = drafts.keep(request, replace(kept, design=design))
    return HttpResponseRedirect(reverse("pages:upload_checked", kwargs={"draft": name}))


def _page(request: HttpRequest, name: str, found: Checked, form: UploadForm, fault: str = "") -> HttpResponse:
    kind, scale = found.settings.kind, pictures.scale(request)
    excluding = [flag for flag in found.result["flags"] if flag["severity"] == "exclude"]
    context: dict[str, Any] = {
        **shown(kind, found.result["method"], found.result, found.traces, found.notes),
        "draft": name,
        "found": found,
        "measured_on": form.cleaned_data["measured_on"],
        "files": form.held.values(),
        "counts": kind == "common_mode" and not excluding,
        "excluding": excluding,
        "agree_fault": fault,
        "chart_address": reverse("pages:upload_chart", kwargs={"draft": name, "form": "json"}),
        "picture_address": reverse("pages:upload_chart", kwargs={"draft": name, "form": "svg"}),
        "more": chart_scale.word(scale),
        "scales": chart_scale.choices(request, scale),
        "min_contributors": settings.BENCHNIGHT_MIN_CONTRIBUTORS,
        "public_min_contributors": settings.BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS,
    }
    return door.render(request, "upload_checked.html", context, status=422 if fault else 200)


def chart(request: HttpRequest, viewer: Viewer, draft: str, form: str) -> HttpResponse:
    """GET: the chart of a result that is not saved yet."""
    filled = checking.form_of(viewer, drafts.find(request, draft))
    found = checking.check(viewer, filled)
    if found is None:
        raise BenchnightError("draft.faulty", "This upload has faults: open its form.", kind="not_found")
    return drawn(request, found.drawable, found.traces, checking.bands_of(found, filled), form)


def _saved(
    request: HttpRequest, viewer: Viewer, name: str, kept: Draft, found: Checked, form: UploadForm
) -> HttpResponse:
    allowance = throttle.take(
        f"uploads:{viewer.member_id}", limit=settings.BENCHNIGHT_UPLOADS_PER_HOUR, window_s=HOUR_S
    )
    if not allowance.allowed:
        detail = (
            f"An account can save {allowance.limit} tests an hour. "
            "This one is kept for a day: come back later."
        )
        response = door.refusal(request, 429, detail, reason="limit.uploads")
        response["Retry-After"] = str(allowance.reset_s)
        return response
    try:
        stored = save(viewer, found, form)
    except BenchnightError as error:
        faults.show(
            form, error, {fault.field: field_of(fault.field) for fault in error.errors if fault.field}
        )
        return form_page(request, kept, form, status=422)
    staging.drop(by=viewer, keys=list(kept.held.values()))
    drafts.forget(request, name)
    words = "The test is saved." if stored.created else "You had saved this very test before: here it is."
    messages.success(request, words)
    return HttpResponseRedirect(reverse("pages:test", kwargs={"key": stored.key}))


def save(viewer: Viewer, found: Checked, form: UploadForm) -> Stored:
    """Registers what is new and records the test, all or nothing.

    Raises BenchnightError with the faults of any of the three.
    """
    with transaction.atomic():
        design, device = found.design, found.device
        if design is None:
            design = designs.register(by=viewer, recipe_given=found.recipe).key
        if device is None:
            origin = form.cleaned_data["origin"] or "homebrew"
            device = devices.register(by=viewer, design=design, tag=found.tag, origin=origin).key
        return tests.record(
            by=viewer,
            device=device,
            uploads=found.uploads,
            settings=found.settings,
            measured_on=form.cleaned_data["measured_on"],
        )
