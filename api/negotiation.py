"""Which form a reply takes: `?format=` decides, else the Accept header."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from rest_framework.negotiation import DefaultContentNegotiation
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request

from measurements.errors import BenchnightError


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
        raise unknown_format(renderers)


def unknown_format(renderers: Sequence[Any]) -> BenchnightError:
    """What a client learns that asked for a format this address does not have."""
    offered = ", ".join(renderer.format for renderer in renderers)
    return BenchnightError("query.format", f"This address has these formats: {offered}.", field="format")
