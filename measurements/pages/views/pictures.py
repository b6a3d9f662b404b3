"""Charts as answers: the specification as JSON, or the picture as SVG."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse

from measurements.charts import render
from measurements.charts.frequency_axis import SCALES, Scale
from measurements.charts.tones import PALETTES, Tone
from measurements.errors import BenchnightError

WIDTH_PX = 660  # of a picture that does not adapt: readable on a phone when it is scaled down
SVG_POLICY = "default-src 'none'; frame-ancestors 'none'; sandbox"


def chosen(request: HttpRequest, name: str, known: Sequence[str], first: str) -> str:
    """A word of the address out of a list. Raises BenchnightError `chart.unknown`."""
    word = request.GET.get(name, first)
    if word not in known:
        raise BenchnightError("chart.unknown", f"Choose one of: {', '.join(known)}.", field=name)
    return word


def tone(request: HttpRequest) -> Tone:
    """Light or dark ground."""
    return chosen(request, "tone", tuple(PALETTES), "light")  # type: ignore[return-value]  # one of PALETTES


def scale(request: HttpRequest) -> Scale:
    """A logarithmic or a linear frequency axis."""
    return chosen(request, "scale", SCALES, "log")  # type: ignore[return-value]  # one of SCALES


def width_px(form: str, stacked: bool) -> int | None:
    """A specification for the page adapts to its place; a picture and stacked panels cannot."""
    return WIDTH_PX if form == "svg" or stacked else None


def reply(spec: dict[str, Any] | None, form: str, *, own: bool = False) -> HttpResponse:
    """form: json or svg. own: drawn for one reader alone, so this process does not remember it either.

    Raises BenchnightError `chart.nothing` where there is nothing to draw.
    """
    if spec is None:
        raise BenchnightError("chart.nothing", "There is nothing to draw here.", kind="not_found")
    if form == "json":
        return JsonResponse(spec, json_dumps_params={"separators": (",", ":"), "allow_nan": False})
    response = HttpResponse(render.svg(spec, kept=not own), content_type="image/svg+xml; charset=utf-8")
    # a picture opened by itself is a document of its own: it may load and run nothing
    response["Content-Security-Policy"] = SVG_POLICY
    return response
