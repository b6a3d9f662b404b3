"""Input that says what is wrong with it: unknown and repeated fields are refused by name."""

from __future__ import annotations

import math
from collections.abc import Mapping
from typing import Any

from django.http import QueryDict
from rest_framework import serializers
from rest_framework.exceptions import ErrorDetail, ValidationError


class StrictSerializer(serializers.Serializer):
    """An input serializer that refuses what it does not know."""

    def to_internal_value(self, data: Any) -> Any:
        faults: dict[str, Any] = {}
        if isinstance(data, Mapping):
            known = ", ".join(self.fields) or "none"
            for name in data:
                if name not in self.fields:
                    faults[str(name)] = [
                        ErrorDetail(f"There is no such field here; known: {known}.", "unknown")
                    ]
        if isinstance(data, QueryDict):
            faults |= self._repeats(data)
        if faults:
            raise ValidationError(faults)
        return super().to_internal_value(data)

    def _repeats(self, data: QueryDict) -> dict[str, Any]:
        once = [name for name, field in self.fields.items() if not isinstance(field, serializers.ListField)]
        return {
            name: [ErrorDetail("Give this once.", "repeated")] for name in once if len(data.getlist(name)) > 1
        }


class Number(serializers.FloatField):
    """A finite number; the framework's own field takes `nan` and `inf`."""

    def to_internal_value(self, data: Any) -> float:
        if isinstance(data, bool):
            self.fail("invalid")
        value = super().to_internal_value(data)
        if not math.isfinite(value):
            self.fail("invalid")
        return value


class Text(serializers.CharField):
    """A text that was a text: the framework's own field also takes numbers from JSON."""

    def to_internal_value(self, data: Any) -> str:
        if not isinstance(data, str):
            self.fail("invalid")
        return super().to_internal_value(data)
