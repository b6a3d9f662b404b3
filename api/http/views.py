"""What every view of the door does before and after its own few lines.

Order: limit, size, method, form of the reply, sign-in, query words; then the view; then the headers.
"""

from __future__ import annotations

from typing import Any, ClassVar

from django.conf import settings
from django.http import HttpResponse, HttpResponseBase
from rest_framework.exceptions import APIException, MethodNotAllowed, NotAuthenticated, UnsupportedMediaType
from rest_framework.permissions import SAFE_METHODS
from rest_framework.renderers import BaseRenderer
from rest_framework.request import Request
from rest_framework.response import Response
from rest_framework.views import APIView

from api.http import (
    cross_origin,
    deprecation,
    digests,
    idempotency,
    problems,
    reply_cache,
    representation,
    throttling,
)
from api.http.authentication import can_write
from api.http.fields import StrictSerializer
from api.http.parsers import StrictJson
from api.http.renderers import Json
from measurements.disclosure.viewers import Viewer
from measurements.errors import BenchnightError
from measurements.selectors.accounts import viewers
from measurements.services.uploads import size_limits

MOST_ADDRESS_CHARACTERS = 4000  # the server passes on twice as many, so that this refusal can be a problem


class EmptyQuery(StrictSerializer):
    """An address that takes no query words."""


class ResourceView(APIView):
    """A view of the API.

    members_only: methods that need a sign-in; what a signed-in viewer may do is decided below the door.
    words: the query words of GET. scope: a limit of its own, see `throttling.count`.
    forms_of_writes: the forms beside JSON in which a POST can answer; only `?format=` and Accept choose.
    is_shared: GET answers everybody who is not signed in alike, from what the catalogue holds.
    takes_recipes: the JSON body may be as large as a form; elsewhere nothing large is meant.
    """

    members_only: ClassVar[frozenset[str]] = frozenset()
    words: ClassVar[type[StrictSerializer]] = EmptyQuery
    scope: ClassVar[str | None] = None
    forms_of_writes: ClassVar[tuple[type[BaseRenderer], ...]] = ()
    is_shared: ClassVar[bool] = False
    takes_recipes: ClassVar[bool] = False
    http_method_names: ClassVar[list[str]] = ["get", "post", "patch", "delete", "head", "options"]

    viewer: Viewer
    asked: dict[str, Any]
    counted: throttling.CountedRequest | None = None
    cache_key: str | None = None

    def initial(self, request: Request, *args: Any, **kwargs: Any) -> None:
        _check_tls(request)
        if request.method == "OPTIONS":
            return
        self._count(request)
        self._check_size(request)
        if request.method not in self.allowed_methods:
            raise MethodNotAllowed(request.method)
        super().initial(request, *args, **kwargs)
        if request.method in self.members_only and not request.user.is_authenticated:
            raise NotAuthenticated
        self.viewer = viewers.get_viewer(request.user)
        self._check_scope(request)
        self.asked = self._read_words(request)
        _check_charset(request)
        digests.check_digest(request)
        if self.is_shared and not self.viewer.signed_in and reply_cache.is_anonymous_read(request):
            self.cache_key = reply_cache.build_key(request)
            self.get = reply_cache.reuse_reply(self.cache_key, self.get)
        if request.method == "POST" and "POST" in self.members_only:
            self.post = idempotency.make_idempotent(self, self.post)

    def get_renderers(self) -> list[BaseRenderer]:
        """Write answer in JSON and, where a view says so, in further forms."""
        if self.request.method in ("GET", "HEAD"):
            return super().get_renderers()
        return [Json(), *(form() for form in self.forms_of_writes)]

    def options(self, request: Request, *args: Any, **kwargs: Any) -> HttpResponse:
        """Say which methods there are, to scripts of other sites too; not counted against any limit."""
        response = HttpResponse(status=204)
        cross_origin.answer_preflight(request, response, self.allowed_methods)
        return response

    def finalize_response(
        self, request: Request, response: HttpResponseBase, *args: Any, **kwargs: Any
    ) -> HttpResponseBase:
        response = _render_now(super().finalize_response(request, response, *args, **kwargs))
        by_token = self.counted is not None and request.auth is not None
        is_browser = self.counted is not None and request.user.is_authenticated and not by_token
        response = representation.finish_response(
            request,
            response,
            is_private=is_browser or request.method in self.members_only,
            may_shrink=self.counted is not None and not is_browser,
        )
        if self.cache_key is not None:
            reply_cache.keep_reply(self.cache_key, response)
        response = representation.apply_conditions(request, response)
        if self.counted is not None:
            throttling.announce_limit(response, self.counted)
        if request.method != "OPTIONS":
            cross_origin.allow_reading(request, response)
        deprecation.announce_deprecation(response, getattr(self.called(request), "operation", None))
        response["X-Content-Type-Options"] = "nosniff"
        if response.status_code in (204, 405):
            response["Allow"] = ", ".join(self.allowed_methods)
        return response

    def called(self, request: Request) -> Any:
        """Return the described method behind this request; None where there is none."""
        name = "get" if request.method == "HEAD" else (request.method or "").lower()
        return getattr(type(self), name, None)

    def _check_scope(self, request: Request) -> None:
        """Allow every token where no account is needed: such a view stores nothing."""
        stores = request.method in self.members_only and request.method not in SAFE_METHODS
        if stores and not can_write(request.auth):
            raise BenchnightError(
                "token.read_only",
                "This token is for reading. Make one for uploading on your account's page of tokens.",
                kind="forbidden",
            )

    def _count(self, request: Request) -> None:
        """Count before anything else is done, so that wrong tokens are limited as well."""
        failure: APIException | None = None
        try:
            request.user  # noqa: B018  # authenticates
        except APIException as error:  # from here on the request counts as anonymous
            failure = error
        self.counted = throttling.count_request(request, self.scope)
        self.keep_within(self.counted, "limit.requests")
        if failure is not None:
            raise failure

    def _check_size(self, request: Request) -> None:
        """Refuse a body by its declared length, before any of it is read.

        What is too large for every address was marked before the door (`deploy/middleware.py`).
        """
        if len(request.get_full_path()) > MOST_ADDRESS_CHARACTERS:
            raise BenchnightError(
                "request.address_too_long",
                f"An address has up to {MOST_ADDRESS_CHARACTERS} characters. Send fewer query words.",
                kind="too_long",
            )
        sentence = getattr(request, "too_large", None)
        if sentence is None and StrictJson in self.parser_classes and not self.takes_recipes:
            sentence = size_limits.describe_excess_of_json(int(request.META.get("CONTENT_LENGTH") or 0))
        if sentence is not None:
            raise BenchnightError("request.too_large", sentence, kind="too_large")

    def keep_within(self, counted: throttling.CountedRequest, code: str) -> None:
        """Refuse a request beyond a limit, and announces that limit instead of the usual one."""
        if not counted.allowance.allowed:
            self.counted = counted
            raise BenchnightError(code, throttling.describe_limit(counted), kind="too_many")

    def _read_words(self, request: Request) -> dict[str, Any]:
        words = request.query_params.copy()
        if request.method in ("GET", "HEAD") or self.forms_of_writes:
            formats = words.pop("format", [])  # `negotiation` has checked the last of them
            if len(formats) > 1:
                raise BenchnightError("field.repeated", "Give this once.", field="format")
        known = self.words if request.method in ("GET", "HEAD") else EmptyQuery
        serializer = known(data=words)
        serializer.is_valid(raise_exception=True)
        return dict(serializer.validated_data)


def _check_tls(request: Request) -> None:
    """Refuse plain http. A page redirects, but a program would go on sending its token in the clear."""
    if settings.SECURE_SSL_REDIRECT and not request.is_secure():
        raise BenchnightError(
            "request.not_over_tls",
            "This address is reached over https only. A token that was sent without it may have been read: "
            "revoke it and make a new one.",
            kind="forbidden",
        )


def _check_charset(request: Request) -> None:
    """Bodies are UTF-8: Python knows codecs, such as hex, that would fail deep inside a parser."""
    charset = request.content_type and request.content_params.get("charset")
    if charset and charset.lower() not in ("utf-8", "utf8", "us-ascii"):
        raise UnsupportedMediaType(request.content_type)


def _render_now(response: HttpResponseBase) -> HttpResponseBase:
    """Render now: a value that JSON cannot hold, say, would else fail outside every handler."""
    if not isinstance(response, Response):
        return response
    try:
        return response.render()
    except Exception as error:  # noqa: BLE001  # the last line of defence; it is logged
        return problems.convert_exception(error, {})
