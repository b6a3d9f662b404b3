"""Base classes of serializers: output serializers describe and never validate, input serializers are strict.

`RowSerializer` takes a row of `selectors` apart; `VerbatimSerializer` describes what is JSON already (a
result, an evidence object) and hands it on as it is.
"""

from __future__ import annotations

import math
from collections.abc import Mapping
from datetime import UTC
from functools import cache
from typing import Any, ClassVar

from django.http import QueryDict
from drf_spectacular.utils import extend_schema_field
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError
from rest_framework.settings import api_settings

from api.http import significant
from measurements.errors import MOST_ERRORS


class ReplySerializer(serializers.Serializer):
    """An output serializer; `represent` shows every row through one instance of its class.

    is_exact: its figures are as a source gave them, or published as they are, and are not rounded.
    """

    is_exact: ClassVar[bool] = False

    @classmethod
    def represent(cls, row: Any) -> Any:
        """Build the JSON of a row.

        A new serializer copies every field of it, which takes longer than showing the row; the one instance
        holds nothing of a row or a request.
        """
        shown = _get_instance(cls).to_representation(row)
        return shown if cls.is_exact else significant.round_figures(shown)


@cache
def _get_instance(shown: type[ReplySerializer]) -> ReplySerializer:
    return shown()


class RowSerializer(ReplySerializer):
    """A row of `selectors` as JSON."""


class VerbatimSerializer(ReplySerializer):
    """JSON that a room below made; the fields only describe it."""

    def to_representation(self, instance: Any) -> Any:
        return instance


def number_field(text: str, *, optional: bool = False, nullable: bool = True) -> serializers.FloatField:
    """Return a figure; null where it does not exist. optional: not every row has the field at all."""
    return serializers.FloatField(allow_null=nullable, required=not optional, help_text=text)


def text_field(text: str, *, optional: bool = False, nullable: bool = False) -> serializers.CharField:
    """Return a text."""
    return serializers.CharField(allow_null=nullable, required=not optional, help_text=text)


def moment_field(*, nullable: bool = False) -> serializers.DateTimeField:
    """Build a moment, written in UTC with `Z`, whatever zone the group's pages use."""
    return serializers.DateTimeField(allow_null=nullable, default_timezone=UTC)


class Complex(VerbatimSerializer):
    """A complex number."""

    re = serializers.FloatField()
    im = serializers.FloatField()


@extend_schema_field({"oneOf": [{"type": "integer"}, {"type": "string"}]})
class CountField(serializers.Field):
    """How many: a whole number for members, a range such as `5-9` for the public."""

    def to_representation(self, value: Any) -> Any:
        return value


def key_field(source: str = "key") -> serializers.CharField:
    """Return the random key of a row, `id` outside."""
    return serializers.CharField(source=source, help_text="Random key; carries neither time nor order.")


# Input that says what is wrong with it: unknown and repeated fields are refused by name.


class StrictSerializer(serializers.Serializer):
    """An input serializer that refuses what it does not know; by count first, then name by name."""

    def to_internal_value(self, data: Any) -> Any:
        faults: dict[str, Any] = {}
        if isinstance(data, Mapping):
            known = ", ".join(self.fields) or "none"
            if len(data) > len(self.fields) + MOST_ERRORS:
                told = ErrorDetail(f"This has {len(data)} fields; known: {known}.", "too_many")
                raise ValidationError({api_settings.NON_FIELD_ERRORS_KEY: [told]})
            for name in data:
                if name not in self.fields:
                    faults[str(name)] = [
                        ErrorDetail(f"There is no such field here; known: {known}.", "unknown")
                    ]
        if isinstance(data, QueryDict):
            faults |= self._repeats(data) | self._empties(data)
        if faults:
            raise ValidationError(faults)
        return super().to_internal_value(data)

    def _repeats(self, data: QueryDict) -> dict[str, Any]:
        once = [name for name, field in self.fields.items() if not isinstance(field, serializers.ListField)]
        return {
            name: [ErrorDetail("Give this once.", "repeated")] for name in once if len(data.getlist(name)) > 1
        }

    def _empties(self, data: QueryDict) -> dict[str, Any]:
        """Refuse words without a value: an unset variable of a script must not mean "all"."""
        return {
            name: [ErrorDetail("Give this a value, or leave the word out.", "empty")]
            for name in data
            if name in self.fields
            and any(isinstance(text, str) and not text.strip() for text in data.getlist(name))
        }


def is_json(field: serializers.Field) -> bool:
    """Say whether a field's value came in JSON, which has types; words and forms have texts alone."""
    return not isinstance(getattr(field.root, "initial_data", None), QueryDict)


class ShortListField(serializers.ListField):
    """A list whose length is looked at before its entries; the framework's own looks at it afterwards."""

    def run_child_validation(self, data: Any) -> Any:
        if self.max_length is not None and len(data) > self.max_length:
            raise ValidationError(
                f"This has {len(data)} entries; at most {self.max_length} are taken.", "max_length"
            )
        return super().run_child_validation(data)


class ObjectField(serializers.Field):
    """An object that a room below reads; nothing here looks at its names."""

    default_error_messages = {"not_an_object": "Send an object."}

    def to_internal_value(self, data: Any) -> Mapping[str, Any]:
        if not isinstance(data, Mapping):
            self.fail("not_an_object")
        return data

    def to_representation(self, value: Any) -> Any:
        return value


class NumberField(serializers.FloatField):
    """A finite number; the framework's own field takes `nan` and `inf`."""

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool) or (is_json(self) and not isinstance(data, int | float)):
            self.fail("invalid")
        value = super().to_internal_value(data)
        if not math.isfinite(value):
            self.fail("invalid")
        return value


class TextField(serializers.CharField):
    """A text that was a text: the framework's own field also takes numbers from JSON."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return super().to_internal_value(data)


class FlagField(serializers.BooleanField):
    """True or false; in JSON only as such: the framework's own field also takes 1, "no" and the like."""

    def to_internal_value(self, data: Any) -> bool:
        if is_json(self) and not isinstance(data, bool):
            self.fail("invalid", input=data)
        return bool(super().to_internal_value(data))


class CountInput(serializers.IntegerField):
    """A whole number; in JSON only as such."""

    def to_internal_value(self, data: Any) -> int:
        if is_json(self) and (isinstance(data, bool) or not isinstance(data, int)):
            self.fail("invalid")
        return int(super().to_internal_value(data))
