"""Replies to the public that are the same until the catalogue changes: made once, sent often.

They are looked up before anything else is done but counting, because reading the words of an address anew
costs more than sending the reply. So the question is the request as it came: its address and host (replies
name addresses), and the headers that decide on the form of the reply.
"""

from __future__ import annotations

from collections.abc import Callable

from django.conf import settings
from django.http import HttpRequest, HttpResponse, HttpResponseBase

from api import representation
from measurements.queries.kept import PUBLIC, Answer

# of the request that it was made for, not of the reply
_OF_ONE_REQUEST = frozenset({"ratelimit", "ratelimit-policy"})
# each of these asks for more than reading, or by somebody
_MORE_THAN_READING = ("HTTP_AUTHORIZATION", "HTTP_CONTENT_DIGEST", "HTTP_IF_MATCH", "HTTP_RANGE")
# questions are kept beside their answers: nobody fills the memory with long ones
_LONGEST_QUESTION = 600


def is_by_nobody(request: HttpRequest) -> bool:
    """Whether the request reads, and carries nothing by which its sender could be known."""
    if request.method != "GET" or settings.SESSION_COOKIE_NAME in request.COOKIES:
        return False
    meta = request.META
    return meta.get("CONTENT_LENGTH") in (None, "", "0") and not any(
        name in meta for name in _MORE_THAN_READING
    )


def for_everybody(request: HttpRequest, make: Callable[[], HttpResponseBase]) -> HttpResponseBase:
    """The kept reply to a request by nobody, else what `make` answers now.

    Refusals and streams are not kept. What is kept is whole and as it goes out, gzip and tag included.
    """
    asked = (request.build_absolute_uri(), request.headers.get("Accept", ""))
    if sum(map(len, asked)) > _LONGEST_QUESTION:
        return make()
    other: list[HttpResponseBase] = []
    # who has the reply already is told so at the end: what is kept is never a 304
    has_already = request.META.pop("HTTP_IF_NONE_MATCH", None)

    def answer() -> Answer | None:
        response = make()
        if response.status_code != 200 or not isinstance(response, HttpResponse):
            other.append(response)
            return None
        named = ((name, text) for name, text in response.items() if name.lower() not in _OF_ONE_REQUEST)
        return Answer(bytes(response.content), tuple(named))

    wants_gzip = representation.accepts_gzip(request.headers.get("Accept-Encoding", ""))
    found = PUBLIC.answer(("api", *asked, wants_gzip), answer)
    if found is None:
        return other[0]
    response = HttpResponse(found.content, headers=dict(found.headers))
    return representation.unless_known(response, has_already)
