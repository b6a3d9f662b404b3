"""Upload, first half: what was tested, what it is, the files; then on to the checked result."""

from __future__ import annotations

from dataclasses import replace
from urllib.parse import urlencode

from django.http import HttpRequest, HttpResponse, HttpResponseRedirect
from django.urls import reverse

from measurements.disclosure.circles import Viewer
from measurements.ingest import staging
from measurements.pages import bench, cautions, checking, door, drafts
from measurements.pages.drafts import Draft
from measurements.pages.forms.find import RATIOS
from measurements.pages.forms.upload import UploadForm
from measurements.pages.words import KINDS

TYPED = (*UploadForm.base_fields, *bench.SETTINGS)
MOST_BYTES = 8 * 1024 * 1024


def upload(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: choose what was tested, or with `kind` the form. POST: check what was sent."""
    if not viewer.signed_in:
        return door.render(request, "upload_signed_out.html")
    if request.method == "POST":
        return _received(request, viewer)
    if "draft" in request.GET:
        draft = drafts.find(request, request.GET["draft"])
        return form_page(request, draft, checking.form_of(viewer, draft), status=200)
    if "kind" not in request.GET:
        return _kinds_page(request, viewer)
    draft = Draft(request.GET["kind"], request.GET.get("method") or None, request.GET.get("design", ""))
    design = checking.design_of(viewer, draft.design)
    wanted = "new" if design is not None else request.GET.get("device")
    procedure = checking.procedure_of(draft.kind, draft.method)
    form = UploadForm(
        procedure,
        checking.own_devices(viewer),
        initial={"device": wanted} if wanted else None,
        design=design,
        partners=checking.partners_for(viewer, procedure),
    )
    return form_page(request, draft, form, status=200)


def _kinds_page(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """The kinds as links that keep `device` or `design` of the address."""
    kept = {name: request.GET[name] for name in ("device", "design") if request.GET.get(name)}
    grouped: dict[str, list[bench.Procedure]] = {}
    for procedure in bench.PROCEDURES:
        grouped.setdefault(procedure.kind, []).append(procedure)
    kinds = [(kind, KINDS[kind], rows) for kind, rows in grouped.items()]
    design = checking.design_of(viewer, kept.get("design", ""))
    return door.render(
        request,
        "upload_kinds.html",
        {"kinds": kinds, "kept": f"&{urlencode(kept)}" if kept else "", "design": design},
    )


def form_page(request: HttpRequest, draft: Draft, form: UploadForm, *, status: int) -> HttpResponse:
    """The form, with everything that was typed and every file that is kept."""
    context = {
        "form": form,
        "procedure": form.procedure,
        "kind_words": KINDS[draft.kind],
        "draft": draft,
        "ratios": RATIOS,
        "cautions": cautions.for_kind(draft.kind),
    }
    return door.render(request, "upload_form.html", context, status=status)


def _received(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    procedure = checking.procedure_of(request.POST.get("kind", ""), request.POST.get("method") or None)
    too_large = {
        role: file.size
        for role, file in request.FILES.items()
        if file.size is not None and file.size > MOST_BYTES
    }
    draft = Draft(
        kind=procedure.kind,
        method=procedure.method,
        design=request.POST.get("design", ""),
        typed={name: value for name, value in request.POST.items() if name in TYPED},
        held=_held(request, viewer, procedure, set(too_large)),
    )
    if "use_design" in request.POST and not too_large:
        return _with_design(request, viewer, replace(draft, design=request.POST["use_design"]))
    form = checking.form_of(viewer, draft)
    for role in too_large:
        if role in form.fields:
            form.add_error(
                role, "This file is larger than 8 MiB. Save fewer points, or only the S-parameters."
            )
    if checking.check(viewer, form) is None:
        return form_page(request, draft, form, status=422)
    name = drafts.keep(request, draft)
    return HttpResponseRedirect(reverse("pages:upload_checked", kwargs={"draft": name}))


def _with_design(request: HttpRequest, viewer: Viewer, draft: Draft) -> HttpResponse:
    """The form again with a design chosen (or none, to describe another), nothing of it judged yet."""
    return form_page(request, draft, checking.form_of(viewer, draft, judged=False), status=200)


def _held(
    request: HttpRequest, viewer: Viewer, procedure: bench.Procedure, refused: set[str]
) -> dict[str, str]:
    """Role -> key of the staged file: a file that came now, else the one that was kept before."""
    held: dict[str, str] = {}
    for each in procedure.files:
        came = request.FILES.get(each.role)
        if came is not None and each.role not in refused:
            kept = staging.keep(by=viewer, role=each.role, name=came.name or "unnamed", data=came.read())
            held[each.role] = kept.key
        elif request.POST.get(f"held_{each.role}") and not request.POST.get(f"drop_{each.role}"):
            held[each.role] = request.POST[f"held_{each.role}"]
    return held
