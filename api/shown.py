"""What output serializers have in common: they describe, and never validate.

`Shown` takes a row of `queries` apart; `Verbatim` describes what is JSON already (a result, an
evidence object) and hands it on as it is.
"""

from __future__ import annotations

from functools import cache
from typing import Any

from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers


class Shown(serializers.Serializer):
    """A row of `queries` as JSON."""

    @property
    def _readable_fields(self) -> tuple[serializers.Field, ...]:
        return _fields_of(type(self))


@cache
def _fields_of(shown: type[Shown]) -> tuple[serializers.Field, ...]:
    """One set for all rows: REST framework copies every field for each reply, which takes longer than showing
    it. These hold nothing of a row or a request."""
    return tuple(shown().fields.values())


class Verbatim(serializers.Serializer):
    """JSON that a room below made; the fields only describe it."""

    def to_representation(self, instance: Any) -> Any:
        return instance


def number(text: str, *, optional: bool = False, nullable: bool = True) -> serializers.FloatField:
    """A figure; null where it does not exist. optional: not every row has the field at all."""
    return serializers.FloatField(allow_null=nullable, required=not optional, help_text=text)


def words(text: str, *, optional: bool = False, nullable: bool = False) -> serializers.CharField:
    """A text."""
    return serializers.CharField(allow_null=nullable, required=not optional, help_text=text)


class Complex(Verbatim):
    """A complex number."""

    re = serializers.FloatField()
    im = serializers.FloatField()


@extend_schema_field({"oneOf": [{"type": "integer"}, {"type": "string"}]})
class Count(serializers.Field):
    """How many: a whole number for members, a range such as `5-9` for the public."""

    def to_representation(self, value: Any) -> Any:
        return value


def key_field(source: str = "key") -> serializers.CharField:
    """The random key of a row, `id` outside."""
    return serializers.CharField(source=source, help_text="Random key; carries neither time nor order.")
