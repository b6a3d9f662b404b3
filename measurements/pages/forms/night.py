"""A club night: when, with what, and who came to it."""

from __future__ import annotations

from typing import Any

from django import forms
from django.utils import timezone

from measurements.pages.forms.device import DateInput

CALIBRATED = (
    ("true", "yes, at the ends of the jig's leads"),
    ("", "not said yet"),
    ("false", "no: the night's tests are left out of evidence"),
)


class NightForm(forms.Form):
    """What is said of a night; all but the day can follow later."""

    use_required_attribute = False

    held_on = forms.DateField(label="Day", widget=DateInput())
    title = forms.CharField(
        required=False, max_length=120, label="Title", help_text="Such as: autumn bench night"
    )
    instrument = forms.CharField(
        required=False, max_length=120, label="Analyser", help_text="Kind and anything that tells it apart."
    )
    jig = forms.CharField(
        required=False, max_length=200, label="Jig", help_text="Clips, adapters and leads, in a few words."
    )
    calibrated = forms.ChoiceField(required=False, choices=CALIBRATED, label="Was the analyser calibrated?")
    calibration = forms.CharField(
        required=False, max_length=200, label="Calibration", help_text="Which standards, and when."
    )
    resistors = forms.CharField(
        required=False,
        max_length=200,
        label="Load resistors",
        help_text="Which values the set holds, and the power each bears.",
    )
    notes = forms.CharField(
        required=False,
        label="Notes",
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Only this night's operators and the stewards read them.",
    )

    def __init__(self, data: Any = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial={"held_on": timezone.now().date(), **(initial or {})})

    def fields_given(self) -> dict[str, Any]:
        """The fields as `ingest.nights` takes them."""
        said = {"true": True, "false": False}
        return {**self.cleaned_data, "calibrated": said.get(self.cleaned_data["calibrated"])}


class PersonForm(forms.Form):
    """Somebody who brings devices: the name of an account, or a guest's."""

    use_required_attribute = False

    name = forms.CharField(
        max_length=64,
        label="Name",
        help_text="An account's name, or a guest's: only this night's operators and the stewards read it.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class OperatorForm(forms.Form):
    """Another operator of the night."""

    use_required_attribute = False

    operator = forms.CharField(
        max_length=64, label="Another operator", widget=forms.TextInput(attrs={"autocomplete": "off"})
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
