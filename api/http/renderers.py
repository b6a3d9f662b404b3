"""The forms a reply can take. All but JSON hand on what the view made (see `tables.py`, `replies.py`)."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer, JSONRenderer
from rest_framework.request import Request

from measurements.errors import BenchnightError

# Which form a reply takes: `?format=` decides, else the Accept header.


class Negotiation(DefaultContentNegotiation):
    """As the framework does it, except that an unknown `?format=` names what is on offer (the framework
    answers 404) and that a `?format=` that is given overrides the Accept header, so that a plain link
    with it works in a browser."""

    def select_renderer(
        self, request: Request, renderers: Sequence[BaseRenderer], format_suffix: str | None = None
    ) -> tuple[BaseRenderer, str]:
        wanted = request.query_params.get("format")
        if wanted is None:
            return super().select_renderer(request, renderers, format_suffix)
        for renderer in renderers:
            if renderer.format == wanted:
                return renderer, renderer.media_type
        raise make_unknown_format_error(renderers)


def make_unknown_format_error(renderers: Sequence[Any]) -> BenchnightError:
    """Build the reply to a client that wants a format this address does not have."""
    offered = ", ".join(renderer.format for renderer in renderers)
    return BenchnightError("query.format", f"This address has these formats: {offered}.", field="format")


class Json(JSONRenderer):
    """Strict JSON: a NaN or an infinite value is refused, never sent."""

    strict = True


class PassThrough(BaseRenderer):
    """Content that the view finished: text or bytes."""

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: dict[str, Any] | None = None,
    ) -> Any:
        return data


class Csv(PassThrough):
    media_type = "text/csv"
    format = "csv"
    charset = "utf-8"


class Ndjson(PassThrough):
    media_type = "application/x-ndjson"
    format = "ndjson"
    charset = "utf-8"


class Touchstone(PassThrough):
    media_type = "text/x-touchstone"
    format = "touchstone"
    charset = "utf-8"


class Svg(PassThrough):
    media_type = "image/svg+xml"
    format = "svg"
    charset = "utf-8"


class Png(PassThrough):
    media_type = "image/png"
    format = "png"
    charset = None
    render_style = "binary"


class Vega(Json):
    """A Vega-Lite specification where plain JSON means something else."""

    media_type = "application/vnd.vegalite.v6+json"
    format = "vega"


class Raw(PassThrough):
    media_type = "application/octet-stream"
    format = "raw"
    charset = None
    render_style = "binary"


class StoredFile(Raw):
    """A stored file of whatever type it has; every Accept header fits."""

    media_type = "*/*"


class Atom(PassThrough):
    media_type = "application/atom+xml"
    format = "atom"
    charset = "utf-8"


class Yaml(PassThrough):
    media_type = "application/vnd.oai.openapi"
    format = "yaml"
    charset = "utf-8"


class OpenApiJson(Json):
    media_type = "application/vnd.oai.openapi+json"
    format = "openapi-json"


class Html(PassThrough):
    media_type = "text/html"
    format = "html"
    charset = "utf-8"


TABLE_RENDERERS = (Json, Csv, Ndjson)

CHART_RENDERERS = (Json, Svg, Png)
