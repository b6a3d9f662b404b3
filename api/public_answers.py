"""Replies to the public that are the same until the catalogue changes: computed once, sent often."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from django.http import HttpResponse, HttpResponseBase
from rest_framework.request import Request
from rest_framework.response import Response

from measurements.queries.kept import PUBLIC, Answer

_CARRIED = ("Content-Type", "Content-Disposition", "Content-Security-Policy", "Link")


def for_everybody(door: Any, handler: Callable[..., HttpResponseBase]) -> Callable[..., HttpResponseBase]:
    """`handler` of a reading request by nobody in particular, asked only where no answer is kept.

    The address with its words, the host (replies name addresses) and the form of the reply make the question.
    Refusals and streams are not kept.
    """

    def answered(request: Request, *args: Any, **kwargs: Any) -> HttpResponseBase:
        refused: list[HttpResponseBase] = []

        def make() -> Answer | None:
            response = handler(request, *args, **kwargs)
            if response.status_code != 200 or response.streaming:
                refused.append(response)
                return None
            return _answer(door, request, response)

        question = (
            "api",
            request.build_absolute_uri(),
            request.accepted_renderer.format,
            request.accepted_media_type,
        )
        answer = PUBLIC.answer(question, make)
        return refused[0] if answer is None else HttpResponse(answer.content, headers=dict(answer.headers))

    return answered


def _answer(door: Any, request: Request, response: HttpResponseBase) -> Answer:
    if isinstance(response, Response):
        response.accepted_renderer = request.accepted_renderer
        response.accepted_media_type = request.accepted_media_type
        response.renderer_context = door.get_renderer_context()
        response.render()
    named = tuple((name, response[name]) for name in _CARRIED if response.has_header(name))
    return Answer(bytes(response.content), named)  # type: ignore[attr-defined]  # not a stream
