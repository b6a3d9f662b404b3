"""Turns the nested faults of an input serializer into the flat list of a problem."""

from __future__ import annotations

from collections.abc import Iterator
from typing import Any

from rest_framework.exceptions import ErrorDetail
from rest_framework.settings import api_settings

from measurements.errors import FieldError


def field_errors(detail: Any) -> tuple[FieldError, ...]:
    """One entry per fault, fields as dotted paths such as `winding.turns` or `cores.0.mix`."""
    return tuple(_walk(detail, ""))


def _walk(detail: Any, path: str) -> Iterator[FieldError]:
    if isinstance(detail, dict):
        for key, value in detail.items():
            whole = key == api_settings.NON_FIELD_ERRORS_KEY
            yield from _walk(value, path if whole else _joined(path, str(key)))
    elif isinstance(detail, list):
        for index, value in enumerate(detail):
            nested = isinstance(value, dict | list)
            yield from _walk(value, _joined(path, str(index)) if nested else path)
    elif isinstance(detail, ErrorDetail):
        code = detail.code if "." in (detail.code or "") else f"field.{detail.code}"
        yield FieldError(code, str(detail), path or None)


def _joined(path: str, key: str) -> str:
    return f"{path}.{key}" if path else key
