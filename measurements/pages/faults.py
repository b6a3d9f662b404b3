"""Puts a `BenchnightError` beside the fields of a form that it names."""

from __future__ import annotations

from collections.abc import Mapping

from django import forms

from measurements.errors import BenchnightError
from measurements.pages import bench


def at_fault(form: forms.Form) -> list[forms.BoundField]:
    """The fields with something to mend, as the form has them in order."""
    return [field for field in form if field.errors]


def show(form: forms.Form, error: BenchnightError, names: Mapping[str, str] | None = None) -> None:
    """Adds every fault to its field, or to the top of the form where it has none there.

    names: the error's field names in the words of the form (`winding.turns` -> `turns`).
    """
    for fault in error.errors:
        field = (names or {}).get(fault.field or "", fault.field or "")
        line = f" (line {fault.line})" if fault.line else ""
        form.add_error(field if field in form.fields else None, f"{bench.in_words(fault.detail)}{line}")
