"""What the page of the description shows: addresses by tag, and the components that they name.

Rows are made from openapi.yaml alone, so the page cannot say anything else.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from typing import Any

from django.utils.html import format_html, format_html_join
from django.utils.safestring import SafeString

SIGN_INS = {"bearer": "token", "access_token": "token", "session": "signed in on the site"}


@dataclass(frozen=True)
class ParameterRow:
    """A query word, header or part of an address."""

    name: str
    place: str
    required: bool
    type: str
    sentence: SafeString
    choices: tuple[str, ...] = ()


@dataclass(frozen=True)
class ContentRow:
    """One form of a body or reply; `component` names what it holds, empty for texts and bytes."""

    media_type: str
    component: str


@dataclass(frozen=True)
class ReplyRow:
    """A status and what comes with it."""

    status: str
    sentence: SafeString
    contents: tuple[ContentRow, ...]


@dataclass(frozen=True)
class OperationRow:
    """A method at an address."""

    name: str
    method: str
    path: str
    summary: str
    sentence: SafeString
    who: str
    parameters: tuple[ParameterRow, ...]
    bodies: tuple[ContentRow, ...]
    replies: tuple[ReplyRow, ...]
    can_try: bool


@dataclass(frozen=True)
class TagRow:
    """A group of operations."""

    name: str
    sentence: SafeString
    operations: tuple[OperationRow, ...]


@dataclass(frozen=True)
class FieldRow:
    """A field of a component; `component` names what it or each of its entries holds."""

    name: str
    type: str
    component: str
    required: bool
    sentence: SafeString


@dataclass(frozen=True)
class ComponentRow:
    """An object that bodies or replies hold."""

    name: str
    sentence: SafeString
    fields: tuple[FieldRow, ...]


def list_tags(document: Mapping[str, Any]) -> tuple[TagRow, ...]:
    """List the tags in the order of the document, each with its operations."""
    rows = [
        (operation["tags"][0], _build_operation(document, method, path, operation))
        for path, item in document["paths"].items()
        for method, operation in item.items()
    ]
    return tuple(
        TagRow(
            tag["name"],
            format_sentence(tag["description"]),
            tuple(row for name, row in rows if name == tag["name"]),
        )
        for tag in document["tags"]
    )


def list_components(document: Mapping[str, Any]) -> tuple[ComponentRow, ...]:
    """List every component by name, with its fields."""
    return tuple(
        ComponentRow(name, format_sentence(schema.get("description", "")), tuple(_list_fields(schema)))
        for name, schema in sorted(document["components"]["schemas"].items())
    )


def _build_operation(
    document: Mapping[str, Any], method: str, path: str, operation: Mapping[str, Any]
) -> OperationRow:
    parameters = tuple(_build_parameter(each) for each in operation.get("parameters", ()))
    return OperationRow(
        name=operation["operationId"],
        method=method.upper(),
        path=path,
        summary=operation["summary"],
        sentence=format_sentence(operation["description"]),
        who=_describe_sign_ins(operation["security"]),
        parameters=parameters,
        bodies=tuple(_list_contents(operation.get("requestBody", {}))),
        replies=tuple(_list_replies(document, operation)),
        can_try=method == "get",
    )


def _build_parameter(parameter: Mapping[str, Any]) -> ParameterRow:
    schema = parameter["schema"]
    inner = schema.get("items", schema)
    choices = tuple(str(each) for each in inner.get("enum", ()) if each is not None)
    return ParameterRow(
        parameter["name"],
        parameter["in"],
        bool(parameter.get("required")),
        describe_type(schema),
        format_sentence(parameter.get("description", "")),
        choices,
    )


def _describe_sign_ins(security: list[Mapping[str, Any]]) -> str:
    """Say who may ask: everybody where an empty requirement is among them."""
    if {} in security:
        return "everybody"
    return " or ".join(dict.fromkeys(SIGN_INS[name] for way in security for name in way))


def _list_contents(body: Mapping[str, Any]) -> Iterator[ContentRow]:
    for media_type, content in body.get("content", {}).items():
        yield ContentRow(media_type, find_component(content.get("schema", {})))


def _list_replies(document: Mapping[str, Any], operation: Mapping[str, Any]) -> Iterator[ReplyRow]:
    for status, response in operation["responses"].items():
        if "$ref" in response:
            response = document["components"]["responses"][response["$ref"].rsplit("/", 1)[1]]
        yield ReplyRow(
            str(status), format_sentence(response.get("description", "")), tuple(_list_contents(response))
        )


def _list_fields(schema: Mapping[str, Any]) -> Iterator[FieldRow]:
    required = schema.get("required", ())
    for name, field in schema.get("properties", {}).items():
        component = find_component(field)
        yield FieldRow(
            name,
            describe_type(field),
            component,
            name in required,
            format_sentence(field.get("description", "")),
        )


def find_component(schema: Mapping[str, Any]) -> str:
    """Name the component that a schema, its entries or its first choice is; empty where there is none."""
    if "$ref" in schema:
        return str(schema["$ref"]).rsplit("/", 1)[1]
    inner = [
        schema.get("items", {}),
        *schema.get("allOf", ()),
        *schema.get("oneOf", ()),
        *schema.get("anyOf", ()),
    ]
    return next((name for each in inner if each and (name := find_component(each))), "")


def describe_type(schema: Mapping[str, Any]) -> str:
    """Say of which type a value is, such as `number or null` or `list of string`."""
    if "items" in schema:
        return f"list of {describe_type(schema['items'])}"
    given = schema.get("type")
    if given is None:
        choices = (*schema.get("oneOf", ()), *schema.get("anyOf", ()))
        return " or ".join(dict.fromkeys(map(describe_type, choices))) or "object"
    names = [given] if isinstance(given, str) else list(given)
    return " or ".join(schema.get("format", name) if name == "string" else name for name in names)


def format_sentence(text: str) -> SafeString:
    """Escape a sentence of the description for a page; what it has in backticks is code."""
    parts = text.split("`")
    shown = (format_html("<code>{}</code>", part) if place % 2 else part for place, part in enumerate(parts))
    return format_html_join("", "{}", ((part,) for part in shown))
