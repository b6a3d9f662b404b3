"""Which core is this? Turns on an unmarked core and a sweep; read, answered and forgotten.

The files go back into the page, so that neither a fault elsewhere nor a second question costs a choice.
"""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import cautions, form_handling, rendering, throttling
from measurements.pages.layout.embedded_files import embed_files, read_embedded_files
from measurements.pages.predictions import presenters
from measurements.pages.predictions.forms import CoreIdentificationForm
from measurements.selectors.predictions import identification
from measurements.selectors.predictions.rows import IdentificationRow
from measurements.services.tests import analysis
from measurements.services.uploads.uploads import Upload

FILES = ("sweep", "jig_open", "jig_short")

MAX_SWEEP_BYTES = 8 * 1024 * 1024


def show_core_identification(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the form. POST: the answer below it; nothing is stored."""
    if request.method != "POST":
        return _render_core_page(request, CoreIdentificationForm(), 200)
    throttling.count_computation(request, viewer)
    form = CoreIdentificationForm(request.POST, request.FILES, initial=read_embedded_files(request, FILES))
    for name in FILES:
        came = request.FILES.get(name)
        if came is not None and (came.size or 0) > MAX_SWEEP_BYTES:
            form.add_error(name, "This file is larger than 8 MiB. Save fewer points.")
    if form.is_valid():
        try:
            return _render_core_page(request, form, 200, _identify_core(form))
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
    return _render_core_page(request, form, 422)


def _identify_core(form: CoreIdentificationForm) -> IdentificationRow:
    files = {name: form.cleaned_data[name] for name in FILES if form.cleaned_data.get(name)}
    curve = analysis.read_measured_curve(
        {name: Upload(file.name or "unnamed", file.read()) for name, file in files.items()}
    )
    return identification.identify_mix(
        curve.freq_hz, curve.z_ohm, turns=form.cleaned_data["turns"], size_mm=form.size_mm
    )


def _render_core_page(
    request: HttpRequest, form: CoreIdentificationForm, status: int, told: IdentificationRow | None = None
) -> HttpResponse:
    context: dict[str, Any] = {
        "form": form,
        "cautions": cautions.list_cautions("identify_core"),
        **_list_files(form),
    }
    if told is not None:
        context |= {
            "told": told,
            "picture": presenters.build_fit_picture(told),
            "behind": presenters.build_fit_table(told),
        }
    return rendering.render_page(request, "predictions/core.html", context, status=status)


def _list_files(form: CoreIdentificationForm) -> dict[str, Any]:
    """Return the files with what the page carries of them (not of one at fault), and what must be chosen
    again.
    """
    sound = {name: form.cleaned_data.get(name) for name in FILES} if form.is_bound else {}
    kept, too_large = embed_files(
        {name: file for name, file in sound.items() if file and not form.has_error(name)}
    )
    said = "your entries and valid files are still here"
    if too_large:
        said = (
            "your entries are still here, but choose these files again, which are too large for the page: "
            + ", ".join(too_large)
        )
    return {"files": [(form[name], kept.get(name)) for name in FILES], "kept": said, "too_large": too_large}
