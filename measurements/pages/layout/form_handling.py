"""Puts a `BenchnightError` beside the fields of a form that it names."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from measurements.errors import BenchnightError
from measurements.pages.layout import procedures


def list_invalid_fields(form: forms.Form) -> list[forms.BoundField]:
    """Return the fields with something to mend, as the form has them in order."""
    return [field for field in form if field.errors]


def add_error_to_form(
    form: forms.Form, error: BenchnightError, names: Mapping[str, str] | None = None
) -> None:
    """Add every fault to its field, or to the top of the form where it has none there.

    names: the error's field names in the words of the form (`winding.turns` -> `turns`).
    """
    for fault in error.errors:
        field = (names or {}).get(fault.field or "", fault.field or "")
        line = f" (line {fault.line})" if fault.line else ""
        form.add_error(
            field if field in form.fields else None, f"{procedures.translate_roles(fault.detail)}{line}"
        )


# A form that is sent: written, or shown again with what was typed and the faults beside the fields.


def submit_form(
    request: HttpRequest,
    form: forms.Form,
    write: Callable[[], object],
    *,
    said: str,
    target: str,
    names: Mapping[str, str] | None = None,
) -> HttpResponse | None:
    """Write what a valid form says and leads to `target` with `said`; None where it must be shown again.

    names: the error's field names in the words of the form.
    """
    if not form.is_valid():
        return None
    try:
        write()
    except BenchnightError as error:
        if error.kind in ("forbidden", "not_found"):
            raise
        add_error_to_form(form, error, names)
        return None
    messages.success(request, said)
    return HttpResponseRedirect(target)


class DateInput(forms.DateInput):
    """The browser's own date field."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")
