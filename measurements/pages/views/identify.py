"""Which core is this? Turns on an unmarked core and a sweep; read, answered and forgotten.

The files go back into the page, so that neither a fault elsewhere nor a second question costs a choice.
"""

from __future__ import annotations

from typing import Any

from django.http import HttpRequest, HttpResponse

from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.ingest import measured_curve
from measurements.ingest.uploads import Upload
from measurements.pages import carried_files, cautions, door, faults, fit_picture, pace
from measurements.pages.forms.predict import CoreForm
from measurements.queries import identifications
from measurements.queries.rows_of_predictions import IdentificationRow

FILES = ("sweep", "jig_open", "jig_short")
MOST_BYTES = 8 * 1024 * 1024


def core(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the form. POST: the answer below it; nothing is stored."""
    if request.method != "POST":
        return _page(request, CoreForm(), 200)
    pace.keep(request, viewer)
    form = CoreForm(request.POST, request.FILES, initial=carried_files.came_back(request, FILES))
    for name in FILES:
        came = request.FILES.get(name)
        if came is not None and (came.size or 0) > MOST_BYTES:
            form.add_error(name, "This file is larger than 8 MiB. Save fewer points.")
    if form.is_valid():
        try:
            return _page(request, form, 200, _told(form))
        except BenchnightError as error:
            faults.show(form, error)
    return _page(request, form, 422)


def _told(form: CoreForm) -> IdentificationRow:
    files = {name: form.cleaned_data[name] for name in FILES if form.cleaned_data.get(name)}
    curve = measured_curve.of_uploads(
        {name: Upload(file.name or "unnamed", file.read()) for name, file in files.items()}
    )
    return identifications.of_curve(
        curve.freq_hz, curve.z_ohm, turns=form.cleaned_data["turns"], size_mm=form.size_mm
    )


def _page(
    request: HttpRequest, form: CoreForm, status: int, told: IdentificationRow | None = None
) -> HttpResponse:
    context: dict[str, Any] = {"form": form, "cautions": cautions.BENCH, **_files(form)}
    if told is not None:
        context |= {"told": told, "picture": fit_picture.of(told), "behind": fit_picture.table(told)}
    return door.render(request, "predict_core.html", context, status=status)


def _files(form: CoreForm) -> dict[str, Any]:
    """The files with what the page carries of them (not of one at fault), and what must be chosen again."""
    sound = {name: form.cleaned_data.get(name) for name in FILES} if form.is_bound else {}
    kept, too_large = carried_files.carried(
        {name: file for name, file in sound.items() if file and not form.has_error(name)}
    )
    said = "what you typed is kept, and so are sound files"
    if too_large:
        said = (
            f"what you typed is kept, but choose again what is too large to go along: {', '.join(too_large)}"
        )
    return {"files": [(form[name], kept.get(name)) for name in FILES], "kept": said, "too_large": too_large}
