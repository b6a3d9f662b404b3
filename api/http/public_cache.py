"""Replies to the public that are the same until the catalogue changes: made once, sent often.

They are looked up before anything of a request is done but counting it, because reading the words of an
address anew costs more than sending the reply. So the question is the request as it came: its address and
host (replies name addresses), and the headers that decide on the form of the reply.
"""

from __future__ import annotations

from collections.abc import Callable, Hashable, Mapping

from django.conf import settings
from django.db.utils import InterfaceError, OperationalError
from django.http import HttpRequest, HttpResponse, HttpResponseBase
from rest_framework.request import Request

from api.http import representation, throttling
from measurements.selectors.evidence import answer_cache
from measurements.selectors.evidence.answer_cache import PUBLIC_ANSWERS, CachedAnswer

API_PREFIX = "/api/"
# of the request that it was made for, not of the reply
_LIMIT_HEADERS = frozenset({"ratelimit", "ratelimit-policy"})
# each of these asks for more than reading, or by somebody
_UNCACHED_HEADERS = ("HTTP_AUTHORIZATION", "HTTP_CONTENT_DIGEST", "HTTP_IF_MATCH", "HTTP_RANGE")
# questions are kept beside their answers: nobody fills the memory with long ones
_MAX_KEY_LENGTH = 600
_STATE = "benchnight.catalogue_state"


def mark_public(request: HttpRequest | Request) -> None:
    """Says, before it is made, that whoever is not signed in gets this reply. The middleware keeps it, and
    makes a 304 of it."""
    request.META[_STATE] = answer_cache.get_catalogue_state()


def is_marked_public(request: HttpRequest | Request) -> bool:
    """Whether the reply to this request is one for everybody."""
    return _STATE in request.META


def is_anonymous_read(request: HttpRequest) -> bool:
    """Whether the request reads, and carries nothing by which its sender could be known."""
    if request.method != "GET" or settings.SESSION_COOKIE_NAME in request.COOKIES:
        return False
    meta = request.META
    has_body = meta.get("CONTENT_LENGTH") not in (None, "", "0")
    return not has_body and not any(name in meta for name in _UNCACHED_HEADERS)


class PublicCacheMiddleware:
    """Answers from what is kept, and keeps what the door marks. Stands outside all that shapes a reply."""

    def __init__(self, get_response: Callable[[HttpRequest], HttpResponseBase]) -> None:
        self.get_response = get_response

    def __call__(self, request: HttpRequest) -> HttpResponseBase:
        if not request.path_info.startswith(API_PREFIX):
            return self.get_response(request)
        question = _build_cache_key(request)
        if question is not None and (kept := _find_cached(request, question)) is not None:
            return kept
        response = self.get_response(request)
        if not is_marked_public(request) or response.status_code != 200:
            return response
        if question is None or not isinstance(response, HttpResponse) or response.cookies:
            return representation.apply_if_none_match(request, response)
        named = [(name, text) for name, text in response.items() if name.lower() not in _LIMIT_HEADERS]
        answer = CachedAnswer(bytes(response.content), tuple(named))
        PUBLIC_ANSWERS.keep(question, answer, request.META[_STATE])
        limits = {name: text for name, text in response.items() if name.lower() in _LIMIT_HEADERS}
        return _send_cached(request, answer, limits)


def _build_cache_key(request: HttpRequest) -> Hashable:
    """What the reply depends on; None where the request is somebody's, or too long to be kept."""
    if not is_anonymous_read(request):
        return None
    meta = request.META
    words, accept = meta.get("QUERY_STRING", ""), meta.get("HTTP_ACCEPT", "")
    address = request.scheme, request.get_host(), request.path_info, words
    if sum(map(len, address)) + len(accept) > _MAX_KEY_LENGTH:
        return None
    return "api", *address, accept, representation.accepts_gzip(meta.get("HTTP_ACCEPT_ENCODING", ""))


def _find_cached(request: HttpRequest, question: Hashable) -> HttpResponseBase | None:
    """The kept reply, counted; None where there is none, or the limit is used up, or the database away:
    the door then says so. Counting and asking for the state of the catalogue are one statement."""
    if not PUBLIC_ANSWERS.has(question):
        return None
    try:
        counted = throttling.count_visitor(request, answer_cache.STATE_SQL)
    except (InterfaceError, OperationalError):
        return None
    found = PUBLIC_ANSWERS.find(question, answer_cache.build_catalogue_state(counted.allowance.beside))
    if found is None or not counted.allowance.allowed:
        return None
    return _send_cached(request, found, throttling.format_limit_headers(counted))


def _send_cached(request: HttpRequest, answer: CachedAnswer, limits: Mapping[str, str]) -> HttpResponseBase:
    """The reply, byte for byte the same whether it was kept or just made: nobody learns who asked before."""
    whole = HttpResponse(answer.content, headers={**dict(answer.headers), **limits})
    return representation.apply_if_none_match(request, whole)
