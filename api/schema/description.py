"""The last touches to openapi.yaml, made after the views were described."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from api.schema import field_descriptions
from api.schema.sign_in_schemes import SECURITY_SCHEMES

UNITS = {
    "_hz": "Hz",
    "_db": "dB",
    "_ohm": "ohm",
    "_deg": "deg",
    "_h": "H",
    "_f": "F",
    "_w": "W",
    "_mm": "mm",
    "_nh": "nH",
    "_c": "degC",
    "_percent": "%",
    "_ohm_cm": "ohm cm",
    "_mohm": "Mohm",
}
UNIT_WORDS = {"deg": "degrees", "degC": "degrees Celsius", "%": "percent"}
LIMIT_HEADERS = {
    "RateLimit-Policy": {
        "description": 'The limit this request counted against, such as `"anonymous";q=60;w=60`: 60 in 60 s.',
        "schema": {"type": "string"},
        "example": '"token";q=300;w=60',
    },
    "RateLimit": {
        "description": 'What is left of it: `"anonymous";r=59;t=42` is 59 requests in the next 42 s.',
        "schema": {"type": "string"},
        "example": '"token";r=299;t=42',
    },
    "Retry-After": {
        "description": "Seconds to wait before the next try.",
        "schema": {"type": "string"},
        "example": "42",
    },
}
CONTENT_HEADERS = {
    "ETag": {
        "description": "Strong. Send it in If-None-Match to be answered 304 while nothing changed, and in "
        "If-Match where a change asks for it.",
        "schema": {"type": "string"},
        "example": '"9f86d081884c7d659a2feaa0c55ad015"',
    },
    "Content-Digest": {
        "description": "SHA-256 of the content as sent (RFC 9530); not on streams, whose end is unknown.",
        "schema": {"type": "string"},
        "example": "sha-256=:X48E9qOokqqrvdts8nOJRJN3OWDUoyWxBf7kbu9DBPE=:",
    },
    "Link": {
        "description": 'RFC 8288: `rel="first"` and `rel="next"` of a list.',
        "schema": {"type": "string"},
        "example": '<https://bench.example/api/v1/designs/?cursor=abc>; rel="next"',
    },
}
# the licence of the software is `license`; that of the data is the group's to give
TERMS = {
    "x-data-terms": {
        "description": "The data is not under the software's licence. Its terms are the group's own; each "
        "release states them in LICENCE.txt.",
        "url": "/api/v1/releases/latest/files/LICENCE.txt/",
    }
}
PROBLEM_EXAMPLE = {
    "type": "about:blank",
    "title": "Bad Request",
    "status": 400,
    "detail": "Some fields need mending; see the list of errors.",
    "code": "request.invalid",
    "errors": [
        {"field": "sweep", "code": "sweep.bad_number", "detail": "Line 7 holds no number.", "line": 7}
    ],
}


def complete_description(result: dict[str, Any], **_generator: Any) -> dict[str, Any]:
    """Add ways to sign in, units, sentences, limit headers and shared problem replies (a generator hook)."""
    components = result.setdefault("components", {})
    components["securitySchemes"] = SECURITY_SCHEMES
    result["info"].update(TERMS)
    components["headers"] = LIMIT_HEADERS | CONTENT_HEADERS
    if "Problem" in components.get("schemas", {}):
        components["schemas"]["Problem"]["examples"] = [PROBLEM_EXAMPLE]
    for method, operation in iterate_operations(result):
        for status, response in list(operation["responses"].items()):
            _add_headers(response, status, method)
            if set(response.get("content", {})) == {"application/problem+json"}:
                components.setdefault("responses", {})[f"Problem{status}"] = response
                operation["responses"][status] = {"$ref": f"#/components/responses/Problem{status}"}
    for name, component in components.get("schemas", {}).items():
        field_descriptions.describe_fields(name, component.get("properties", {}))
    for _, operation in iterate_operations(result):
        for parameter in operation.get("parameters", []):
            field_descriptions.describe_parameter(parameter)
            _state_unit(parameter["name"], parameter)
    for schema in _schemas(result):
        schema.pop("x-spec-enum-id", None)
        for name, field in schema.get("properties", {}).items():
            if isinstance(field, dict):
                _state_unit(name, field)
    return result


def _state_unit(name: str, field: dict[str, Any]) -> None:
    """Write the unit of a field or parameter beside it and at the end of its sentence, in place."""
    unit = find_unit(name)
    if unit is None:
        return
    field["x-unit"] = unit
    said = f"In {UNIT_WORDS.get(unit, unit)}."
    if "description" in field and not field["description"].endswith(said):
        field["description"] = f"{field['description'].rstrip()} {said}"


def iterate_operations(result: dict[str, Any]) -> Iterator[tuple[str, dict[str, Any]]]:
    """Yield every method and operation of a description."""
    for path in result["paths"].values():
        yield from path.items()


def find_unit(name: str) -> str | None:
    """Return the unit that a field's name ends in; None where it ends in none."""
    fitting = [suffix for suffix in UNITS if name.endswith(suffix)]
    return UNITS[max(fitting, key=len)] if fitting else None


def _add_headers(response: dict[str, Any], status: str, method: str) -> None:
    names = ["RateLimit-Policy", "RateLimit", *(["Retry-After"] if status in ("429", "503") else [])]
    if method == "get" and status == "200":
        names += CONTENT_HEADERS
    if status == "304":
        names.append("ETag")
    headers = response.setdefault("headers", {})
    for name in names:
        headers[name] = {"$ref": f"#/components/headers/{name}"}


def _schemas(value: Any) -> Iterator[dict[str, Any]]:
    """Yield every object inside `value`, itself first."""
    if isinstance(value, dict):
        yield value
        for inner in list(value.values()):
            yield from _schemas(inner)
    elif isinstance(value, list):
        for inner in value:
            yield from _schemas(inner)
