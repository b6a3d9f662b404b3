"""Checks a reply against the committed openapi.yaml: the status, the type, the headers and the content."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml
from django.http import HttpRequest, HttpResponse, StreamingHttpResponse
from openapi_core import Config, OpenAPI
from openapi_core.contrib.django import DjangoOpenAPIResponse
from openapi_core.datatypes import RequestParameters

FILE = Path(__file__).resolve().parents[2] / "api" / "openapi.yaml"
PROBLEM_FIELDS = ["type", "title", "status", "detail", "code", "errors"]
UNDOCUMENTED = {
    401,
    404,
    405,
    429,
}  # where no operation is: an address that does not exist, a method that is not taken


class Asked:
    """What the checker needs of a request; its body was read by the view and is not there any more."""

    content_type = ""
    body = None
    parameters = RequestParameters()

    def __init__(self, request: HttpRequest) -> None:
        self.host_url = "http://testserver"
        self.path = request.path
        self.method = request.method.lower()


@lru_cache(maxsize=1)
def text() -> str:
    return FILE.read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def document() -> dict[str, Any]:
    return yaml.safe_load(text())


@lru_cache(maxsize=1)
def openapi() -> OpenAPI:
    readers = {
        "application/problem+json": _json_of,
        "application/vnd.oai.openapi+json": _json_of,
        "application/vnd.oai.openapi": _text_of,
        "application/vnd.vegalite.v6+json": _json_of,
        "application/x-ndjson": _text_of,
        "application/atom+xml": _text_of,
        "image/svg+xml": _text_of,
        "text/csv": _text_of,
        "text/x-touchstone": _text_of,
    }
    return OpenAPI.from_dict(document(), config=Config(extra_media_type_deserializers=readers))


def checked(response: Any) -> Any:
    """The response itself, when it is what openapi.yaml promises."""
    request = response.wsgi_request
    if isinstance(response, StreamingHttpResponse):
        response = HttpResponse(response.getvalue(), status=response.status_code, headers=response.headers)
    operation = operation_of(request.path, request.method)
    if request.method == "OPTIONS" and response.status_code == 204:
        assert response["Allow"] and "RateLimit" not in response  # looking costs nothing
        return response
    assert "RateLimit" in response, "a reply without RateLimit"
    if request.method == "HEAD":
        assert not response.content
        assert operation is None or str(response.status_code) in operation["responses"]
        return response
    if response.status_code >= 400:
        problem(response)
    if operation is None:
        assert response.status_code in UNDOCUMENTED, response.content[:300]
        return response
    if response.status_code in (204, 304):
        assert not response.content and "Content-Type" not in response
        assert str(response.status_code) in operation["responses"]
        return response
    if not response.content and "ndjson" in response["Content-Type"]:
        return response  # no rows, no lines
    openapi().validate_response(Asked(request), DjangoOpenAPIResponse(response))
    if response["Content-Type"] == "application/json":
        json.loads(response.content, parse_constant=_no_constant)
    return response


def problem(response: Any) -> dict[str, Any]:
    """The one shape of every error (RFC 9457); answers its content."""
    assert response["Content-Type"] == "application/problem+json", response.content[:300]
    body = json.loads(response.content)
    assert list(body) == PROBLEM_FIELDS
    assert body["status"] == response.status_code
    assert body["type"] == "about:blank"
    assert body["title"] and len(body["detail"]) < 600
    assert body["code"].islower() and "." in body["code"]
    assert body["errors"], "a problem without a list of errors"
    for error in body["errors"]:
        assert set(error) - {"line"} == {"field", "code", "detail"}
        assert "Traceback" not in error["detail"] and "Error" not in error["detail"]
    if response.status_code in (429, 503):
        assert int(response["Retry-After"]) >= 1
    if response.status_code == 401:
        assert response["WWW-Authenticate"] == "Token, Bearer"
    if response.status_code == 405:
        assert response["Allow"]
    return body


def operation_of(path: str, method: str) -> dict[str, Any] | None:
    """The operation at an address; None where there is none."""
    # an address without parameters goes before one that has them
    for template, item in sorted(document()["paths"].items(), key=lambda each: each[0].count("{")):
        parts, given = template.split("/"), path.split("/")
        fits = len(parts) == len(given) and all(
            part == there or (part.startswith("{") and there)
            for part, there in zip(parts, given, strict=True)
        )
        if fits:
            return item.get("get" if method == "HEAD" else method.lower())
    return None


def _text_of(data: bytes, **_parameters: str) -> str:
    return data.decode("utf-8")


def _json_of(data: bytes, **_parameters: str) -> Any:
    return json.loads(data)


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} left the server")
