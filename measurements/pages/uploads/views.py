"""Designs like the recipe that is being typed: a fragment that the upload form's script asks for."""

from __future__ import annotations

from dataclasses import replace
from typing import Any
from urllib.parse import urlencode

from django.conf import settings
from django.contrib import messages
from django.db import transaction
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure import published_figures
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.designs.forms import RATIOS, RecipeFields, get_recipe_field
from measurements.pages.layout import (
    cautions,
    chart_replies,
    diagnosis_words,
    form_handling,
    procedures,
    rendering,
    throttling,
    wording,
)
from measurements.pages.layout.wording import KINDS
from measurements.pages.tests.views import build_result_context, reply_test_chart
from measurements.pages.uploads import checked_uploads, staged_files
from measurements.pages.uploads.checked_uploads import CheckedUpload
from measurements.pages.uploads.forms import UploadForm
from measurements.pages.uploads.kept_files import keep_files
from measurements.pages.uploads.staged_files import Draft
from measurements.selectors.analysers.analysers import list_analysers
from measurements.selectors.designs import similar_designs
from measurements.services.designs import designs
from measurements.services.devices import devices
from measurements.services.evidence import recipe_doubts
from measurements.services.operations import use_counts
from measurements.services.operations.audit import WriteResult
from measurements.services.tests import tests
from measurements.services.uploads import staging
from measurements.services.uploads.uploads import Upload


def show_recipe_matches(request: HttpRequest, _viewer: Viewer) -> HttpResponse:
    """GET: the fields of a recipe as they stand, any of them missing; a list of designs, or nothing."""
    form = RecipeFields(request.GET)
    form.fill_choices()
    return rendering.render_page(
        request,
        "uploads/parts/matches.html",
        {"matches": similar_designs.list_similar_designs(form.so_far())},
    )


# Upload, first half: what was tested, what it is, the files; then on to the checked result.

TYPED_FIELDS = (*UploadForm.base_fields, *procedures.SETTINGS)

MAX_UPLOAD_BYTES = 8 * 1024 * 1024


def show_upload(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: choose what was tested, or with `kind` the form. POST: check what was sent."""
    if not viewer.signed_in:
        return _keep_for_sign_in(request, viewer)
    if request.method == "POST":
        return _receive_upload(request, viewer)
    if "draft" in request.GET:
        draft = staged_files.get_draft(request, request.GET["draft"])
        sent = "device" in draft.typed  # files of a check came without the rest of the form
        form = checked_uploads.build_upload_form(viewer, draft, judged=sent)
        return render_upload_form(request, draft, form, status=200)
    if "kind" not in request.GET:
        return _render_kinds(request, viewer)
    draft = Draft(request.GET["kind"], request.GET.get("method") or None, request.GET.get("design", ""))
    design = checked_uploads.get_upload_design(viewer, draft.design)
    wanted = "new" if design is not None else request.GET.get("device")
    procedure = checked_uploads.get_procedure(draft.kind, draft.method)
    form = UploadForm(
        procedure,
        checked_uploads.list_own_device_choices(viewer),
        initial={"device": wanted} if wanted else None,
        design=design,
        partners=checked_uploads.list_partner_choices(viewer, procedure),
        analysers=list_analysers(viewer),
    )
    return render_upload_form(request, draft, form, status=200)


def _keep_for_sign_in(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """Keep the files of a form whose session ended, so that signing in again goes on with them."""
    small = {role: file for role, file in request.FILES.items() if (file.size or 0) <= MAX_UPLOAD_BYTES}
    if request.method != "POST" or not small:
        return rendering.render_page(request, "uploads/signed_out.html")
    throttling.count_computation(request, viewer)
    procedure = checked_uploads.get_procedure(
        request.POST.get("kind", ""), request.POST.get("method") or None
    )
    roles = {each.role for each in procedure.files}
    files = {
        role: Upload(file.name or "unnamed", file.read()) for role, file in small.items() if role in roles
    }
    typed = {name: value for name, value in request.POST.items() if name in TYPED_FIELDS}
    draft = Draft(procedure.kind, procedure.method, request.POST.get("design", ""), typed)
    return keep_files(request, viewer, draft, files)


def _render_kinds(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """Return the kinds as links that keep `device` or `design` of the address."""
    kept = {name: request.GET[name] for name in ("device", "design") if request.GET.get(name)}
    grouped: dict[str, list[procedures.Procedure]] = {}
    for procedure in procedures.PROCEDURES:
        grouped.setdefault(procedure.kind, []).append(procedure)
    kinds = [(kind, KINDS[kind], rows) for kind, rows in grouped.items()]
    design = checked_uploads.get_upload_design(viewer, kept.get("design", ""))
    return rendering.render_page(
        request,
        "uploads/kinds.html",
        {"kinds": kinds, "kept": f"&{urlencode(kept)}" if kept else "", "design": design},
    )


def render_upload_form(request: HttpRequest, draft: Draft, form: UploadForm, *, status: int) -> HttpResponse:
    """Return the form with all entries and staged files."""
    context = {
        "form": form,
        "procedure": form.procedure,
        "kind_words": KINDS[draft.kind],
        "draft": draft,
        "ratios": RATIOS,
        "cautions": cautions.list_cautions_for_kind(draft.kind),
    }
    return rendering.render_page(request, "uploads/form.html", context, status=status)


def _receive_upload(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    procedure = checked_uploads.get_procedure(
        request.POST.get("kind", ""), request.POST.get("method") or None
    )
    too_large = {
        role: file.size
        for role, file in request.FILES.items()
        if file.size is not None and file.size > MAX_UPLOAD_BYTES
    }
    draft = Draft(
        kind=procedure.kind,
        method=procedure.method,
        design=request.POST.get("design", ""),
        typed={name: value for name, value in request.POST.items() if name in TYPED_FIELDS},
        held=_stage_files(request, viewer, procedure, set(too_large)),
    )
    if "use_design" in request.POST and not too_large:
        return _choose_design(request, viewer, replace(draft, design=request.POST["use_design"]))
    form = checked_uploads.build_upload_form(viewer, draft)
    for role in too_large:
        if role in form.fields:
            form.add_error(
                role, "This file is larger than 8 MiB. Save fewer points, or only the S-parameters."
            )
    if checked_uploads.check_upload(viewer, form) is None:
        return render_upload_form(request, draft, form, status=422)
    name = staged_files.store_draft(request, draft)
    return HttpResponseRedirect(reverse("pages:upload_checked", kwargs={"draft": name}))


def _choose_design(request: HttpRequest, viewer: Viewer, draft: Draft) -> HttpResponse:
    """Return the form again with a design chosen (or none, to describe another), nothing of it judged yet."""
    return render_upload_form(
        request, draft, checked_uploads.build_upload_form(viewer, draft, judged=False), status=200
    )


def _stage_files(
    request: HttpRequest, viewer: Viewer, procedure: procedures.Procedure, refused: set[str]
) -> dict[str, str]:
    """Return role -> key of the staged file: the new one, else the earlier one."""
    held: dict[str, str] = {}
    for each in procedure.files:
        came = request.FILES.get(each.role)
        if came is not None and each.role not in refused:
            kept = staging.stage_file(
                by=viewer, role=each.role, name=came.name or "unnamed", data=came.read()
            )
            held[each.role] = kept.key
        elif request.POST.get(f"held_{each.role}") and not request.POST.get(f"drop_{each.role}"):
            held[each.role] = request.POST[f"held_{each.role}"]
    return held


# Upload, second half: the checked result before anything is saved, and saving it.

HOUR_S = 3600
SHARES = ("publish", "private")


def show_checked_upload(request: HttpRequest, viewer: Viewer, draft: str) -> HttpResponse:
    """GET: the result, what would be published, the button that saves. POST: save."""
    kept = staged_files.get_draft(request, draft)
    if request.POST.get("use_design"):
        return _adopt_design(request, draft, kept, request.POST["use_design"])
    form = checked_uploads.build_upload_form(viewer, kept)
    found = checked_uploads.check_upload(viewer, form)
    if found is None:
        return render_upload_form(request, kept, form, status=422)
    if request.method != "POST":
        return _render_checked_upload(request, draft, found, form)
    if _is_shareable(found) and request.POST.get("share") not in SHARES:
        fault = "Choose one of the two to save the test."
        return _render_checked_upload(request, draft, found, form, fault=fault)
    return _save_and_redirect(request, viewer, draft, kept, found, form)


def _is_shareable(found: CheckedUpload) -> bool:
    """Tell whether tests of this kind are ever published."""
    return found.settings.kind in published_figures.KIND_RULES


def _adopt_design(request: HttpRequest, name: str, kept: Draft, design: str) -> HttpResponse:
    """Return the same upload as a device of a design that is here already."""
    staged_files.delete_draft(request, name)
    name = staged_files.store_draft(request, replace(kept, design=design))
    return HttpResponseRedirect(reverse("pages:upload_checked", kwargs={"draft": name}))


def _has_votes(result: dict[str, Any]) -> bool:
    """Say whether a result has bands that could vote: of loss and match only where U is small enough."""
    return bool(published_figures.extract_band_figures(result))


def _render_checked_upload(
    request: HttpRequest, name: str, found: CheckedUpload, form: UploadForm, fault: str = ""
) -> HttpResponse:
    kind, scale = found.settings.kind, chart_replies.get_scale(request)
    excluding = [flag for flag in found.result["flags"] if flag["severity"] == "exclude"]
    context: dict[str, Any] = {
        **build_result_context(kind, found.result["method"], found.result, found.traces, found.notes),
        "draft": name,
        "found": found,
        "measured_on": form.cleaned_data["measured_on"],
        "files": form.held.values(),
        "shareable": _is_shareable(found),
        "counts": not excluding and (kind == recipe_doubts.EVIDENCE_KIND or _has_votes(found.result)),
        "doubt": diagnosis_words.present_doubt(found.doubt) if found.contradicted else None,
        "excluding": excluding,
        "share_fault": fault,
        "chart_address": reverse("pages:upload_chart", kwargs={"draft": name, "form": "json"}),
        "picture_address": reverse("pages:upload_chart", kwargs={"draft": name, "form": "svg"}),
        "more": chart_replies.get_scale_parameter(scale),
        "scales": chart_replies.list_scale_choices(request, scale),
        "min_contributors": settings.BENCHNIGHT_MIN_CONTRIBUTORS,
        "public_min_contributors": settings.BENCHNIGHT_PUBLIC_MIN_CONTRIBUTORS,
        "detail": settings.BENCHNIGHT_DETAIL_MIN_CONTRIBUTORS,
        "leaving": wording.format_leaving(settings.BENCHNIGHT_MIN_JOINERS),
    }
    return rendering.render_page(request, "uploads/checked.html", context, status=422 if fault else 200)


def draw_upload_chart(request: HttpRequest, viewer: Viewer, draft: str, form: str) -> HttpResponse:
    """GET: the chart of a result that is not saved yet."""
    filled = checked_uploads.build_upload_form(viewer, staged_files.get_draft(request, draft))
    found = checked_uploads.check_upload(viewer, filled)
    if found is None:
        raise BenchnightError("draft.faulty", "This upload has faults: open its form.", kind="not_found")
    return reply_test_chart(
        request, found.drawable, found.traces, checked_uploads.get_upload_bands(found, filled), form
    )


def _save_and_redirect(
    request: HttpRequest, viewer: Viewer, name: str, kept: Draft, found: CheckedUpload, form: UploadForm
) -> HttpResponse:
    allowance = use_counts.count_use(
        f"uploads:{viewer.member_id}", limit=settings.BENCHNIGHT_UPLOADS_PER_HOUR, window_s=HOUR_S
    )
    if not allowance.allowed:
        detail = (
            f"An account can save {allowance.limit} tests an hour. "
            "The server holds this one for a day: come back later."
        )
        response = rendering.render_refusal(request, 429, detail, reason="limit.uploads")
        response["Retry-After"] = str(allowance.reset_s)
        return response
    try:
        answers = {
            "recipe_confirmed": request.POST.get("recipe_confirmed") == "yes",
            "private": request.POST.get("share") == "private",
        }
        stored = save_upload(viewer, found, form, **answers)
    except BenchnightError as error:
        use_counts.give_back_use(f"uploads:{viewer.member_id}", window_s=HOUR_S)
        form_handling.add_error_to_form(
            form, error, {fault.field: get_recipe_field(fault.field) for fault in error.errors if fault.field}
        )
        return render_upload_form(request, kept, form, status=422)
    staging.drop_staged_files(by=viewer, keys=list(kept.held.values()))
    staged_files.delete_draft(request, name)
    if not stored.created:
        use_counts.give_back_use(f"uploads:{viewer.member_id}", window_s=HOUR_S)
    words = "The test is saved." if stored.created else "You had saved this very test before: here it is."
    messages.success(request, words)
    return HttpResponseRedirect(reverse("pages:test", kwargs={"key": stored.key}))


def save_upload(viewer: Viewer, found: CheckedUpload, form: UploadForm, **answers: bool) -> WriteResult:
    """Register what is new and record the test, all or nothing.

    answers: of the owner, `recipe_confirmed` and `private` of `TestSettings`.
    Raises BenchnightError with the faults of any of the three.
    """
    with transaction.atomic():
        design, device = found.design, found.device
        if design is None and device is None:
            design = designs.register_design(by=viewer, recipe_given=found.recipe).key
        if device is None:
            origin = form.cleaned_data["origin"] or "homebrew"
            device = devices.register_device(by=viewer, design=design, tag=found.tag, origin=origin).key
        return tests.record_test(
            by=viewer,
            device=device,
            uploads=found.uploads,
            settings=replace(found.settings, **answers),
            measured_on=form.cleaned_data["measured_on"],
        )
