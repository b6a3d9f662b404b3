"""A test's sweep as a Touchstone file that was made here, and the query words that ask for it."""

from __future__ import annotations

from django.http import HttpResponseBase
from rest_framework import serializers

from api import replies
from api.strict import StrictSerializer
from measurements.disclosure.circles import Viewer
from measurements.errors import BenchnightError
from measurements.queries import corrected_sweeps
from measurements.rf import touchstone_out

RAW = "raw"


class SweepQuery(StrictSerializer):
    form = serializers.ChoiceField(
        (RAW, *corrected_sweeps.FORMS),
        default=RAW,
        help_text="`raw`: the bytes as they came. The others go with `format=touchstone`.",
    )


def corrected(viewer: Viewer, test: str, role: str, form: str) -> HttpResponseBase:
    """The file. Raises BenchnightError `query.form`, `corrected.*`."""
    if form == RAW:
        raise BenchnightError(
            "query.form",
            f"Say which form: {', '.join(corrected_sweeps.FORMS)}; without format you get the raw bytes.",
            field="form",
        )
    if role != "sweep":
        raise BenchnightError(
            "query.form", "Only the role sweep has other forms; take this file as it is.", field="form"
        )
    made = corrected_sweeps.of_test(viewer, test, form)
    comments = [
        f"Benchnight: test {test}, {form}.",
        *made.said,
        "A sweep at milliwatts proves nothing about power.",
    ]
    content = touchstone_out.write(made.sweep, comments=comments)
    return replies.text(content, "text/x-touchstone", f"test-{test}-{form}.s{made.sweep.ports}p")


def check_raw(form: str) -> None:
    """Refuses a form that only a file made here can have. Raises BenchnightError `query.form`."""
    if form != RAW:
        raise BenchnightError("query.form", f"Ask for {form} with format=touchstone.", field="form")
