"""A device: which design it follows and what its tag says."""

from __future__ import annotations

from django import forms

from measurements.pages import words


class DateInput(forms.DateInput):
    """The browser's own date field."""

    input_type = "date"

    def __init__(self) -> None:
        super().__init__(format="%Y-%m-%d")


class DeviceForm(forms.Form):
    """What can be changed of a device."""

    tag = forms.CharField(
        max_length=64, label="Tag", help_text="What is written on it. Only you and the stewards see it."
    )
    origin = forms.ChoiceField(choices=list(words.ORIGINS.items()), label="Where it comes from")
    built_on = forms.DateField(required=False, label="Built on", widget=DateInput())
    place = forms.CharField(
        required=False,
        max_length=120,
        label="Where it is in service",
        help_text="For you, the operators of its nights and the stewards. Never published.",
    )
    retired_on = forms.DateField(
        required=False,
        label="Out of service for good since",
        widget=DateInput(),
        help_text="Nothing is due of a retired device.",
    )
    notes = forms.CharField(
        required=False,
        label="Notes",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="For yourself. Notes are never published.",
    )
