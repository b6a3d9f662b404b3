"""Finds what an older description promised and a newer one does not keep.

Pure: two documents in, sentences out. What a client may send can only grow (no parameter or field becomes
required, no choice goes); what it is told can only grow (no status, form, field or type goes).
"""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

Document = dict[str, Any]
Schema = dict[str, Any]


def broken(old: Document, new: Document) -> list[str]:
    """A sentence for each promise of `old` that `new` breaks; an empty list where it only grew."""
    return [fault for path, item in old["paths"].items() for fault in _of_path(old, new, path, item)]


def _of_path(old: Document, new: Document, path: str, item: Schema) -> Iterator[str]:
    if path not in new["paths"]:
        yield f"{path} is gone"
        return
    for method, before in item.items():
        after = new["paths"][path].get(method)
        where = f"{method.upper()} {path}"
        if after is None:
            yield f"{where} is gone"
            continue
        if before["operationId"] != after["operationId"]:
            yield f"{where}: operationId {before['operationId']} became {after['operationId']}"
        yield from _of_parameters(before, after, where)
        yield from _Walk(old, new, sent=True).of_body(before, after, where)
        yield from _Walk(old, new, sent=False).of_replies(before, after, where)
        if not set(map(str, before.get("security", []))) <= set(map(str, after.get("security", []))):
            yield f"{where}: a way to sign in is gone"


def _of_parameters(before: Schema, after: Schema, where: str) -> Iterator[str]:
    there = {(each["in"], each["name"]): each for each in after.get("parameters", [])}
    known = {(each["in"], each["name"]): each for each in before.get("parameters", [])}
    for key, each in known.items():
        if key not in there:
            yield f"{where}: parameter {key[1]} is gone"
        else:
            gone = _choices(each["schema"]) - _choices(there[key]["schema"])
            if gone:
                yield f"{where}: parameter {key[1]} lost {sorted(gone)}"
            if each["schema"].get("type") != there[key]["schema"].get("type"):
                yield f"{where}: parameter {key[1]} changed its type"
    for key, each in there.items():
        if each.get("required") and not known.get(key, {}).get("required"):
            yield f"{where}: parameter {key[1]} became required"


class _Walk:
    """Two schemas side by side. sent: of a request, where choices may not go and demands not come."""

    def __init__(self, old: Document, new: Document, *, sent: bool) -> None:
        self._documents = (old, new)
        self._sent = sent
        self._seen: set[tuple[str, str]] = set()

    def of_body(self, before: Schema, after: Schema, where: str) -> Iterator[str]:
        forms = before.get("requestBody", {}).get("content", {})
        yield from self._of_forms(forms, after.get("requestBody", {}).get("content", {}), f"{where} body")

    def of_replies(self, before: Schema, after: Schema, where: str) -> Iterator[str]:
        for status, reply in before["responses"].items():
            told = after["responses"].get(status)
            if told is None:
                yield f"{where}: status {status} is gone"
                continue
            was, is_now = self._followed(reply, 0), self._followed(told, 1)
            gone = set(was.get("headers", {})) - set(is_now.get("headers", {}))
            if gone:
                yield f"{where} {status}: headers {sorted(gone)} are gone"
            yield from self._of_forms(was.get("content", {}), is_now.get("content", {}), f"{where} {status}")

    def _of_forms(self, before: Schema, after: Schema, where: str) -> Iterator[str]:
        for media_type, content in before.items():
            if media_type not in after:
                yield f"{where}: {media_type} is gone"
            else:
                yield from self._of_schema(content["schema"], after[media_type]["schema"], where)

    def _of_schema(self, before: Schema, after: Schema, where: str) -> Iterator[str]:
        names = (before.get("$ref", ""), after.get("$ref", ""))
        if all(names):
            if names in self._seen:
                return
            self._seen.add(names)
        before, after = self._followed(before, 0), self._followed(after, 1)
        if _types(before) and not _types(before) <= _types(after) and self._sent:
            yield f"{where}: takes {sorted(_types(before))} no more"
        if _types(before) and not _types(after) <= _types(before) and not self._sent:
            yield f"{where}: {sorted(_types(before))} became {sorted(_types(after))}"
        gone = _choices(before) - _choices(after)
        if self._sent and gone:
            yield f"{where}: the choices {sorted(gone)} are gone"
        if before.get("x-unit") != after.get("x-unit"):
            yield f"{where}: the unit {before.get('x-unit')} became {after.get('x-unit')}"
        yield from self._of_fields(before, after, where)
        for inner in ("items", "additionalProperties"):
            if isinstance(before.get(inner), dict) and isinstance(after.get(inner), dict):
                yield from self._of_schema(before[inner], after[inner], f"{where}[]")

    def _of_fields(self, before: Schema, after: Schema, where: str) -> Iterator[str]:
        fields = after.get("properties", {})
        for name, schema in before.get("properties", {}).items():
            if name not in fields:
                yield f"{where}: field {name} is gone"
            else:
                yield from self._of_schema(schema, fields[name], f"{where}.{name}")
        was, is_now = set(before.get("required", [])), set(after.get("required", []))
        if self._sent and is_now - was:
            yield f"{where}: {sorted(is_now - was)} became required"
        if not self._sent and was - is_now:
            yield f"{where}: {sorted(was - is_now)} may be missing now"

    def _followed(self, schema: Schema, which: int) -> Schema:
        while "$ref" in schema:
            found: Any = self._documents[which]
            for part in schema["$ref"].removeprefix("#/").split("/"):
                found = found[part]
            schema = found
        return schema


def _types(schema: Schema) -> set[str]:
    given = schema.get("type", [])
    return {given} if isinstance(given, str) else set(given)


def _choices(schema: Schema) -> set[str]:
    return {str(each) for each in schema.get("enum", schema.get("items", {}).get("enum", []))}
