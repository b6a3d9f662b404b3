"""Describes an operation for openapi.yaml: one call above each method of a view."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from http import HTTPStatus
from typing import Any

from drf_spectacular.utils import OpenApiExample, OpenApiParameter, OpenApiResponse, extend_schema
from rest_framework import serializers

from api.http import deprecation, idempotency
from api.schema.sign_in_schemes import BEARER, SESSION, TOKEN
from api.serializers.about import Problem

COMMON_STATUSES = (400, 401, 406, 413, 414, 429, 500, 503)  # 413: also for too many query words

BODY_STATUSES = (415,)

IDEMPOTENT_STATUSES = (409, 422)  # a POST of a member takes an Idempotency-Key

TEXT_SCHEMA = {"type": "string"}

BINARY_SCHEMA = {
    "contentMediaType": "application/octet-stream"
}  # OpenAPI 3.1: bytes as they are have no type

STATUS_DESCRIPTIONS = {
    304: "Not changed since the representation whose ETag If-None-Match names.",
    400: "Something in the request needs mending; `errors` names each field.",
    401: "The token is missing, unknown, expired or revoked.",
    403: "This account may not do that.",
    404: "There is no such thing, or it is not yours to see.",
    406: "The form asked for is not on offer.",
    409: "It contradicts what is stored, or the first request with this Idempotency-Key is still at work.",
    412: "Somebody changed it meanwhile: read it again.",
    413: "Too large, or too many fields.",
    414: "The address is too long; send fewer query words.",
    415: "The body is of a type that this address does not take.",
    416: "The file has no such bytes; Content-Range says how many it has.",
    422: "The Idempotency-Key came with another content before.",
    428: "The If-Match header is missing.",
    429: "A limit is used up; Retry-After says when to try again.",
    500: "Something went wrong on the server.",
    503: "The database is busy, or its disk is full; Retry-After says when to try again.",
}


def describe_operation(
    name: str,
    tag: str,
    summary: str,
    description: str,
    *,
    shows: Any,
    example: Any = None,
    status: int = 200,
    also: Mapping[int, Any] | None = None,
    media: Mapping[str, Any] | None = None,
    takes: Any = None,
    sends: Any = None,
    words: type[serializers.Serializer] | None = None,
    refuses: tuple[int, ...] = (),
    members_only: bool = False,
    parameters: tuple[Any, ...] = (),
) -> Callable[[Any], Any]:
    """Return the decorator of a method.

    shows: what a JSON reply of `status` (and of each further status in `also`) holds; None: no body.
    media: further forms of it, media type -> schema. takes: body, media type -> serializer; sends: an
    example of it. words: its query words. refuses: problem statuses beyond those every address has.
    """
    statuses = {status: shows, **(also or {})}
    said: dict[Any, Any] = {}
    for code, shown in statuses.items():
        said |= _list_successes(code, shown, media or {})

    def described(method: Any) -> Any:
        method.operation = name
        reads, posts = method.__name__ == "get", method.__name__ == "post"
        keyed = posts and members_only
        told = said | ({304: OpenApiResponse(description=STATUS_DESCRIPTIONS[304])} if reads else {})
        # a token for reading only is refused by whatever stores
        stores = (403,) if members_only and not reads else ()
        for code in sorted(
            {
                *COMMON_STATUSES,
                *(BODY_STATUSES if takes else ()),
                *stores,
                *(IDEMPOTENT_STATUSES if keyed else ()),
                *refuses,
            }
        ):
            told[(code, "application/problem+json")] = OpenApiResponse(
                Problem, description=STATUS_DESCRIPTIONS[code]
            )
        return extend_schema(
            operation_id=name,
            tags=[tag],
            summary=summary,
            description=description,
            request=takes,
            parameters=[
                *([words] if words else []),
                *parameters,
                *([idempotency.KEY_PARAMETER] if keyed else []),
            ],
            responses=told,
            examples=_list_examples(example, sends, statuses, takes),
            auth=_list_sign_ins(reads=reads, open_to_all=not members_only),
            deprecated=name in deprecation.OPERATIONS,
        )(method)

    return described


def make_list_serializer(
    row: type[serializers.Serializer], *, name: str, pages: bool = True
) -> type[serializers.Serializer]:
    """Build the shape of a list: `{"results", "next", "total"}`. row: a serializer, or a field of rows."""
    following = serializers.CharField(
        allow_null=True,
        help_text="Address of the next page; null on the last." if pages else "Always null: one page.",
    )
    results = row(many=True) if isinstance(row, type) else row
    total = serializers.IntegerField(allow_null=True, help_text="Rows of all pages; null: not counted.")
    fields = {
        "results": results,
        "next": following,
        "total": total,
        "__doc__": "Rows of a list, and where its next page is.",
    }
    return type(name, (serializers.Serializer,), fields)


def _list_sign_ins(*, reads: bool, open_to_all: bool) -> list[dict[str, list[str]]]:
    """List a token in either spelling; for reading the site's own sign-in; none where all may ask."""
    return [{BEARER: []}, {TOKEN: []}, *([{SESSION: []}] if reads else []), *([{}] if open_to_all else [])]


def _list_successes(code: int, shown: Any, media: Mapping[str, Any]) -> dict[Any, Any]:
    said = HTTPStatus(code).phrase
    if shown is None and not media:
        return {code: OpenApiResponse(description=said)}
    made: dict[Any, Any] = {}
    if shown is not None:
        made[(code, "application/json")] = OpenApiResponse(shown, description=said)
    for media_type, schema in media.items():
        made[(code, media_type)] = OpenApiResponse(schema, description=said)
    return made


def _list_examples(example: Any, sends: Any, statuses: Mapping[int, Any], takes: Any) -> list[OpenApiExample]:
    made = []
    if example is not None:
        codes = [str(code) for code, shown in statuses.items() if shown is not None]
        made.append(
            OpenApiExample(
                "A reply", example, response_only=True, status_codes=codes, media_type="application/json"
            )
        )
    if sends is not None:
        made.append(OpenApiExample("A request", sends, request_only=True, media_type=next(iter(takes))))
    return made


IF_MATCH = OpenApiParameter(
    "If-Match",
    str,
    OpenApiParameter.HEADER,
    description="The ETag of the version that the change is based on.",
)
