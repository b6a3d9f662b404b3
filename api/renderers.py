"""The forms a reply can take. All but JSON hand on what the view made (see `tables.py`, `replies.py`)."""

from __future__ import annotations

from typing import Any

from rest_framework.renderers import BaseRenderer, JSONRenderer


class Json(JSONRenderer):
    """Strict JSON: a NaN or an infinite value is refused, never sent."""

    strict = True


class Finished(BaseRenderer):
    """Content that the view finished: text or bytes."""

    def render(
        self,
        data: Any,
        accepted_media_type: str | None = None,
        renderer_context: dict[str, Any] | None = None,
    ) -> Any:
        return data


class Csv(Finished):
    media_type = "text/csv"
    format = "csv"
    charset = "utf-8"


class Ndjson(Finished):
    media_type = "application/x-ndjson"
    format = "ndjson"
    charset = "utf-8"


class Touchstone(Finished):
    media_type = "text/x-touchstone"
    format = "touchstone"
    charset = "utf-8"


class Svg(Finished):
    media_type = "image/svg+xml"
    format = "svg"
    charset = "utf-8"


class Png(Finished):
    media_type = "image/png"
    format = "png"
    charset = None
    render_style = "binary"


class Vega(Json):
    """A Vega-Lite specification where plain JSON means something else."""

    media_type = "application/vnd.vegalite.v6+json"
    format = "vega"


class Raw(Finished):
    media_type = "application/octet-stream"
    format = "raw"
    charset = None
    render_style = "binary"


class Yaml(Finished):
    media_type = "application/vnd.oai.openapi"
    format = "yaml"
    charset = "utf-8"


class OpenApiJson(Json):
    media_type = "application/vnd.oai.openapi+json"
    format = "openapi-json"


class Html(Finished):
    media_type = "text/html"
    format = "html"
    charset = "utf-8"


TABLE = (Json, Csv, Ndjson)
CHART = (Json, Svg, Png)
