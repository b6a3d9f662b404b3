"""The switch of the frequency axis: two links that keep the rest of the address, so it needs no script."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django.http import HttpRequest, HttpResponse, JsonResponse

from measurements.charts import rendering
from measurements.charts.colours import PALETTES, Tone
from measurements.charts.panel_layers import SCALES, Scale
from measurements.errors import BenchnightError

SCALE_NAMES: dict[Scale, str] = {"log": "logarithmic", "linear": "linear"}


@dataclass(frozen=True)
class ScaleChoice:
    """One of the two; `address` is relative to the page."""

    word: str
    address: str
    chosen: bool


def list_scale_choices(request: HttpRequest, now: Scale) -> list[ScaleChoice]:
    """Return both scales; the usual one leaves no word in the address."""
    found = []
    for scale in SCALES:
        asked = request.GET.copy()
        asked.pop("scale", None)
        if scale != SCALES[0]:
            asked["scale"] = scale
        found.append(ScaleChoice(SCALE_NAMES[scale], f"?{asked.urlencode()}#charts", scale == now))
    return found


def get_scale_parameter(now: Scale) -> str:
    """Return the end of a chart's address that asks for this scale."""
    return "" if now == SCALES[0] else f"&scale={now}"


# Charts as answers: the specification as JSON, or the picture as SVG.

# of pictures, which do not adapt as a chart does: for a desk and for a phone
WIDTHS_PX = {"wide": 660, "narrow": 350}

SVG_POLICY = "default-src 'none'; frame-ancestors 'none'; sandbox"


def get_choice(request: HttpRequest, name: str, known: Sequence[str], first: str) -> str:
    """Return a word of the address out of a list. Raises BenchnightError `chart.unknown`."""
    word = request.GET.get(name, first)
    if word not in known:
        raise BenchnightError("chart.unknown", f"Choose one of: {', '.join(known)}.", field=name)
    return word


def get_tone(request: HttpRequest) -> Tone:
    """Return light or dark ground."""
    return get_choice(request, "tone", tuple(PALETTES), "light")  # type: ignore[return-value]  # one of PALETTES


def get_scale(request: HttpRequest) -> Scale:
    """Return a logarithmic or a linear frequency axis."""
    return get_choice(request, "scale", SCALES, "log")  # type: ignore[return-value]  # one of SCALES


def choose_width_px(request: HttpRequest, form: str, stacked: bool) -> int | None:
    """Return the width of a picture as `size` in the address asks for it; None where the chart adapts itself.

    A specification for the page adapts to its place; a picture and stacked panels cannot. Raises
    BenchnightError `chart.unknown`.
    """
    width_px = WIDTHS_PX[get_choice(request, "size", tuple(WIDTHS_PX), "wide")]
    return width_px if form == "svg" or stacked else None


def reply_chart(spec: dict[str, Any] | None, form: str, *, own: bool = False) -> HttpResponse:
    """Return form: json or svg. own: drawn for one reader alone, so no memory holds it.

    Raises BenchnightError `chart.nothing` where there is nothing to draw.
    """
    if spec is None:
        raise BenchnightError("chart.nothing", "There is nothing to draw here.", kind="not_found")
    if form == "json":
        return JsonResponse(spec, json_dumps_params={"separators": (",", ":"), "allow_nan": False})
    svg = rendering.render_svg(spec, kept=False) if own else rendering.render_kept(spec, "svg")
    response = HttpResponse(svg, content_type="image/svg+xml; charset=utf-8")
    # a picture opened by itself is a document of its own: it may load and run nothing
    response["Content-Security-Policy"] = SVG_POLICY
    return response
