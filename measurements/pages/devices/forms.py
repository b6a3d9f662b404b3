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
    design = forms.CharField(
        required=False,
        max_length=200,
        label="Design",
        help_text="Key or whole title, as on the design's page. Empty while its build is not known.",
    )
    kind = forms.CharField(required=False, max_length=64, label="What it is, while its build is not known")
    ratio = forms.CharField(required=False, max_length=16, label="Ratio, such as 4:1")
    make = forms.CharField(required=False, max_length=120, label="Make and model")
    origin = forms.ChoiceField(choices=list(wording.ORIGINS.items()), label="Where it comes from")
    built_on = forms.DateField(required=False, label="Built on", widget=DateInput())
    place = forms.CharField(
        required=False,
        max_length=120,
        label="Where it is in service",
        help_text="For you and the stewards. Never published.",
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


class OfferForm(forms.Form):
    """To whom a device goes."""

    use_required_attribute = False

    name = forms.CharField(
        required=False,
        max_length=64,
        label="Name of the account",
        widget=forms.TextInput({"autocomplete": "off"}),
    )


class LoanForm(forms.Form):
    """Who has it, since when."""

    use_required_attribute = False

    borrower = forms.CharField(max_length=64, label="Who has it", help_text="A name that you know.")
    lent_on = forms.DateField(required=False, label="Since", widget=DateInput(), help_text="Empty: today.")


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
