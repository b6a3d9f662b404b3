"""Check my sweep: a file is read, answered and forgotten; a sign-in keeps it."""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse

from measurements.charts import test_chart
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.check import comparisons
from measurements.pages.check.curve_picture import build_curve_picture
from measurements.pages.check.forms import KIND_CHOICES, SweepCheckForm
from measurements.pages.designs.forms import RATIOS
from measurements.pages.layout import cautions, form_handling, rendering, throttling
from measurements.pages.layout.embedded_files import embed_files, read_embedded_files
from measurements.pages.tests.views import build_result_context
from measurements.pages.uploads.kept_files import keep_files
from measurements.pages.uploads.staged_files import Draft
from measurements.rf.sweeps.kind_guess import guess_kind
from measurements.selectors.reference import reference
from measurements.services.tests import analysis
from measurements.services.uploads.uploads import Upload, parse_settings

FILE = "sweep"
MAX_SWEEP_BYTES = 8 * 1024 * 1024
LIMITS = {"common_mode": "benchmark_db", "load_match": "swr_limit", "insertion_loss": "loss_limit_db"}


def show_sweep_check(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the form. POST: the answer, a question back, or with `keep` the way into the account."""
    if request.method != "POST":
        return _render_check(request, SweepCheckForm(), 200)
    throttling.count_computation(request, viewer)
    form = SweepCheckForm(request.POST, request.FILES, initial=read_embedded_files(request, (FILE,)))
    came = request.FILES.get(FILE)
    if came is not None and (came.size or 0) > MAX_SWEEP_BYTES:
        form.add_error(FILE, "This file is larger than 8 MiB. Save fewer points.")
    if form.is_valid():
        upload = _read_upload(form)
        if "keep" in request.POST and _came_from_here(request):
            return keep_files(request, viewer, _build_draft(form), {FILE: upload})
        try:
            return _render_check(request, form, 200, **_answer(viewer, form, upload))
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
    return _render_check(request, form, 422)


def _read_upload(form: SweepCheckForm) -> Upload:
    file = form.cleaned_data[FILE]
    file.seek(0)
    return Upload(file.name or "unnamed", file.read())


def _came_from_here(request: HttpRequest) -> bool:
    """Say whether the form was on a page of this site: it has no token, because the page is everybody's."""
    origin = request.headers.get("Origin", "null")
    return origin in ("null", f"{request.scheme}://{request.get_host()}")


def _answer(viewer: Viewer, form: SweepCheckForm, upload: Upload) -> dict[str, Any]:
    """Compute the answer, or the guess to ask back where nobody said what was tested."""
    if not form.cleaned_data["kind"]:
        guess = guess_kind(analysis.read_sweeps({FILE: upload})[FILE])
        kinds = [each for each in KIND_CHOICES if each[0]]
        return {"guess": guess, "guessed_words": dict(kinds).get(guess.kind or ""), "kinds": kinds}
    settings = parse_settings(form.list_settings())
    computed = analysis.analyse_uploads(uploads_by_role={FILE: upload}, settings=settings, by=viewer).analysis
    traces = {name: test_chart.replace_non_finite(figures) for name, figures in computed.traces.items()}
    shown = build_result_context(settings.kind, computed.result["method"], computed.result, traces)
    curve = build_curve_picture(
        settings.kind,
        traces,
        reference.list_bands(),
        computed.result["summary"].get(LIMITS[settings.kind]),
        shown["overall_words"],
    )
    found = comparisons.compare_with_designs(viewer, computed.result, form.cleaned_data["build"])
    return {**shown, "views": (), "table": None, "curve": curve, "answered": True, "compared": found}


def _render_check(request: HttpRequest, form: SweepCheckForm, status: int, **answer: Any) -> HttpResponse:
    sound = form.cleaned_data.get(FILE) if form.is_bound and not form.has_error(FILE) else None
    kept, too_large = embed_files({FILE: sound} if sound else {})
    context: dict[str, Any] = {
        "cautions": cautions.list_cautions("common_mode"),
        **answer,
        "form": form,
        "ratios": RATIOS,
        "carried": kept.get(FILE),
        "too_large": too_large,
        "kept": "your entries and the file are still here" if kept else "your entries are still here",
    }
    return rendering.render_page(request, "check/check.html", context, status=status)


def _build_draft(form: SweepCheckForm) -> Draft:
    typed = form.cleaned_data
    kind = typed["kind"] or "common_mode"
    names = ("calibrated", "load_ohm")
    kept = {name: typed[name] for name in names if typed[name]}
    if typed["ratio"]:
        kept["recipe_ratio"] = typed["ratio"]
    return Draft(kind, "direct" if kind == "insertion_loss" else None, "", kept)
