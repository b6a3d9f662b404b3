"""A form that is sent: written, or shown again with what was typed and the faults beside the fields."""

from __future__ import annotations

from collections.abc import Callable, Mapping

from django import forms
from django.contrib import messages
from django.http import HttpRequest, HttpResponse, HttpResponseRedirect

from measurements.errors import BenchnightError
from measurements.pages import faults


def written(
    request: HttpRequest,
    form: forms.Form,
    write: Callable[[], object],
    *,
    said: str,
    target: str,
    names: Mapping[str, str] | None = None,
) -> HttpResponse | None:
    """Writes what a valid form says and leads to `target` with `said`; None where it must be shown again.

    names: the error's field names in the words of the form.
    """
    if not form.is_valid():
        return None
    try:
        write()
    except BenchnightError as error:
        if error.kind in ("forbidden", "not_found"):
            raise
        faults.show(form, error, names)
        return None
    messages.success(request, said)
    return HttpResponseRedirect(target)
