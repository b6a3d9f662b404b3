"""A device: which design it follows and what its tag says."""

from __future__ import annotations

from django import forms

from measurements.pages.layout import wording
from measurements.pages.layout.form_handling import DateInput


class DeviceForm(forms.Form):
    """What can be changed of a device."""

    tag = forms.CharField(
        max_length=64, label="Tag", help_text="What is written on it. Only you and the stewards see it."
    )
    origin = forms.ChoiceField(choices=list(wording.ORIGINS.items()), label="Where it comes from")
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


class ClaimForm(forms.Form):
    """The code on a guest's card."""

    use_required_attribute = False

    code = forms.CharField(
        max_length=64,
        label="Code on the card",
        help_text="Capitals and spaces do not matter.",
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "characters", "spellcheck": "false"}
        ),
    )
