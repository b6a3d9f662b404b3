"""What should I wind for 4:1, 9:1 or 49:1? Loss and SWR of cores and turns, ranked, or of one winding."""

from __future__ import annotations

from dataclasses import dataclass

from django.http import HttpRequest, HttpResponse

from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.pages.layout import figures, form_handling, rendering, throttling
from measurements.pages.predictions import presenters
from measurements.pages.predictions.presenters import Chance
from measurements.pages.predictions.ratio_forms import RatioForm
from measurements.selectors.predictions import prediction_basis, ratio_predictions
from measurements.selectors.predictions.ratio_rows import Percentiles, RatioBandRow, RatioProposalRow
from measurements.selectors.reference import reference


@dataclass(frozen=True)
class RatioBandLine:
    """A band of a ratio device in words and figures."""

    band: str
    chance: Chance
    loss: str
    swr: str
    heat: str
    why_not: str


@dataclass(frozen=True)
class RatioLine:
    """A ratio device with its words."""

    row: RatioProposalRow
    chance: Chance
    bands: list[RatioBandLine]
    capacitor: str
    size: str


def show_ratio_proposals(request: HttpRequest, viewer: Viewer) -> HttpResponse:
    """GET: the question and, where bands were chosen, the answer. The whole state is in the address."""
    form = RatioForm(request.GET)
    context: dict[str, object] = {"form": form, "band_rows": reference.list_bands()}
    if request.GET and form.is_valid() and not form.bands:
        form.add_error("band", "Choose the bands that it is for, one or more.")
    if form.is_valid() and form.bands:
        throttling.count_computation(request, viewer)
        try:
            found = ratio_predictions.find_ratio_proposals(viewer, form.request)
        except BenchnightError as error:
            form_handling.add_error_to_form(form, error)
        else:
            sizes_mm = prediction_basis.get_core_sizes_mm()
            lines = [_present(row, sizes_mm) for row in found.proposals]
            context |= {"found": found, "lines": lines, "cautions": found.cautions}
            context |= {"single": form.request.turns is not None}
    return rendering.render_page(
        request, "predictions/ratio.html", context, status=400 if form.errors else 200
    )


def _present(row: RatioProposalRow, sizes_mm: prediction_basis.CoreSizes) -> RatioLine:
    return RatioLine(
        row=row,
        chance=presenters.present_chance(row.chance),
        bands=[_present_band(band) for band in row.bands],
        capacitor=f"{row.compensation_f * 1e12:.0f} pF" if row.compensation_f else "",
        size=figures.format_core_size(sizes_mm[row.part]) if row.part in sizes_mm else "",
    )


def _present_band(band: RatioBandRow) -> RatioBandLine:
    return RatioBandLine(
        band.band,
        presenters.present_chance(band.chance),
        _say(band.loss_db, 1),
        _say(band.swr, 1),
        _say(band.heat_w_per_100_w, 0),
        band.why_not,
    )


def _say(given: Percentiles, digits: int) -> str:
    """Say the median, and in brackets the interval of eight in ten."""
    low, median, high = (given[name] for name in ("p10", "median", "p90"))
    if low is None or median is None or high is None:
        return figures.NO_VALUE
    return f"{median:.{digits}f} ({low:.{digits}f} to {high:.{digits}f})"
