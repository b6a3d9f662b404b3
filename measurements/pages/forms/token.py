"""A new access token."""

from __future__ import annotations

from django import forms

from measurements.ingest import access_tokens
from measurements.pages.forms.proof import ProvenForm

DAYS = ((30, "a month"), (90, "three months"), (365, "a year"), (1095, "three years"))
SCOPES = (
    (access_tokens.READ, "Reading only: evidence, your devices and tests"),
    (access_tokens.UPLOAD, "Reading and uploading: also stores devices and tests"),
)


class TokenForm(ProvenForm):
    """What it is called, what it may do, how long."""

    field_order = ("label", "scope", "days", "present")

    label = forms.CharField(
        max_length=access_tokens.MOST_LABEL,
        label="Name",
        help_text="What uses it, such as “bench laptop”. You find it again by this name.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Name what will use it."},
    )
    scope = forms.ChoiceField(choices=SCOPES, label="What it may do", initial=access_tokens.READ)
    days = forms.TypedChoiceField(choices=DAYS, coerce=int, label="Good for", initial=90)
