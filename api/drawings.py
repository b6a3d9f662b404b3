"""A chart in the form that was asked for: its Vega-Lite specification, SVG or PNG."""

from __future__ import annotations

from typing import Any

from django.http import HttpResponse, HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from api.replies import PICTURE_POLICY
from measurements.charts import render
from measurements.errors import BenchnightError


def reply(request: Request, specification: dict[str, Any] | None) -> HttpResponseBase:
    """The chart. Raises BenchnightError `chart.nothing_to_draw` where there is none."""
    if specification is None:
        raise BenchnightError(
            "chart.nothing_to_draw",
            "There is no curve to draw: readings are never drawn as one.",
            kind="not_found",
        )
    form = request.accepted_renderer.format
    if form in ("json", "vega"):
        return Response(specification)
    content: str | bytes = render.svg(specification) if form == "svg" else render.png(specification)
    return HttpResponse(
        content,
        content_type=request.accepted_renderer.media_type,
        headers={"Content-Security-Policy": PICTURE_POLICY},
    )
