"""Checks a reply against the committed openapi.yaml: the status, the type, the headers and the content."""

from __future__ import annotations

import json
from functools import lru_cache
from pathlib import Path
from typing import Any

import yaml
from django.http import StreamingHttpResponse
from openapi_core import OpenAPI
from openapi_core.contrib.django import DjangoOpenAPIRequest, DjangoOpenAPIResponse

FILE = Path(__file__).resolve().parents[2] / "api" / "openapi.yaml"
PROBLEM_FIELDS = ["type", "title", "status", "detail", "code", "errors"]
UNDOCUMENTED = {404, 405}  # where no operation is: an address that does not exist, a method that is not taken


@lru_cache(maxsize=1)
def text() -> str:
    return FILE.read_text(encoding="utf-8")


@lru_cache(maxsize=1)
def document() -> dict[str, Any]:
    return yaml.safe_load(text())


@lru_cache(maxsize=1)
def openapi() -> OpenAPI:
    return OpenAPI.from_dict(document())


def checked(response: Any) -> Any:
    """The response itself, when it is what openapi.yaml promises."""
    if isinstance(response, StreamingHttpResponse):
        response.streaming_content = [b"".join(response.streaming_content)]
    if response.status_code >= 400:
        problem(response)
    else:
        assert "RateLimit" in response, "a reply without RateLimit"
    request = response.wsgi_request
    operation = operation_of(request.path, request.method)
    if operation is None:
        assert response.status_code in UNDOCUMENTED, response.content[:300]
        return response
    asked = DjangoOpenAPIRequest(request)
    openapi().validate_response(asked, DjangoOpenAPIResponse(response))
    if "json" in response["Content-Type"]:
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
        assert response["WWW-Authenticate"] == "Token"
    if response.status_code == 405:
        assert response["Allow"]
    return body


def operation_of(path: str, method: str) -> dict[str, Any] | None:
    """The operation at an address; None where there is none."""
    for template, item in document()["paths"].items():
        parts, given = template.split("/"), path.split("/")
        fits = len(parts) == len(given) and all(
            part == there or (part.startswith("{") and there)
            for part, there in zip(parts, given, strict=True)
        )
        if fits:
            return item.get("get" if method == "HEAD" else method.lower())
    return None


def _no_constant(name: str) -> None:
    raise AssertionError(f"{name} left the server")
