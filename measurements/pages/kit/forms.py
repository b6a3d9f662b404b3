"""Forms of kit: a device by itself, a step over many devices, a table, labels."""

from __future__ import annotations

from typing import Any

from django import forms

from measurements.pages.layout import wording
from measurements.pages.layout.form_handling import DateInput
from measurements.services.devices.label_codes import MOST_AT_ONCE
from measurements.services.kit.kit_csv import MOST_CHARACTERS

PAPERS = (("a4", "A4 sheets"), ("letter", "Letter sheets"), ("tape62", "62 mm tape, one label a page"))
STEPS = (
    ("place", "Set where they are in service"),
    ("due", "Mark as due"),
    ("retire", "Retire"),
    ("unretire", "Put back into service"),
)


class RegisterForm(forms.Form):
    """A device without a test: bought, sealed or not measured yet."""

    use_required_attribute = False

    tag = forms.CharField(max_length=64, label="Tag", help_text="What is written on it. Never published.")
    owner = forms.ChoiceField(
        required=False, choices=(("own", "Mine"), ("group", "The group’s")), label="Whose it is"
    )
    kind = forms.CharField(
        required=False, max_length=64, label="What it is", help_text="In your own words, such as choke."
    )
    ratio = forms.CharField(required=False, max_length=16, label="Ratio", help_text="Such as 4:1.")
    make = forms.CharField(required=False, max_length=120, label="Make and model")
    origin = forms.ChoiceField(
        required=False,
        choices=list(wording.ORIGINS.items()),
        label="Where it comes from",
        initial="commercial",
    )
    place = forms.CharField(required=False, max_length=120, label="Where it is in service")
    built_on = forms.DateField(required=False, label="Built on", widget=DateInput())
    notes = forms.CharField(required=False, label="Notes", widget=forms.Textarea(attrs={"rows": 3}))
    code = forms.CharField(required=False, max_length=12, widget=forms.HiddenInput())

    def __init__(self, *args: Any, keeps_kit: bool, **given: Any) -> None:
        super().__init__(*args, **given)
        if not keeps_kit:
            del self.fields["owner"]

    @property
    def described(self) -> dict[str, Any]:
        """Return the fields as `services.devices.devices.register_device` takes them."""
        typed = dict(self.cleaned_data)
        of_group = typed.pop("owner", "") == "group"
        return {**typed, "origin": typed["origin"] or "commercial", "design": None, "of_group": of_group}


class StepForm(forms.Form):
    """The same change of many devices."""

    use_required_attribute = False

    step = forms.ChoiceField(choices=STEPS, label="Do this")
    text = forms.CharField(
        required=False,
        max_length=120,
        label="Place or reason",
        help_text="Where they are, or why they are due. The other steps take none.",
    )


class TableForm(forms.Form):
    """A CSV of kit, pasted or as a file."""

    use_required_attribute = False

    table = forms.CharField(
        required=False,
        label="The table",
        strip=False,
        max_length=MOST_CHARACTERS,
        widget=forms.Textarea(attrs={"rows": 10, "spellcheck": "false", "wrap": "off"}),
        help_text="First line: names of columns. Comma, semicolon or tab between cells.",
    )
    file = forms.FileField(required=False, label="or a CSV file")


class LabelForm(forms.Form):
    """How labels are laid out."""

    use_required_attribute = False

    paper = forms.ChoiceField(required=False, choices=PAPERS, label="Paper")
    columns = forms.IntegerField(required=False, min_value=1, max_value=5, label="Columns", initial=3)
    rows = forms.IntegerField(required=False, min_value=2, max_value=16, label="Rows", initial=8)
    skip = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=79,
        label="Used already",
        initial=0,
        help_text="Labels missing at the start of the first sheet.",
    )

    @property
    def layout(self) -> dict[str, Any]:
        """Return the layout from the form, with a default for each empty field."""
        typed = self.cleaned_data
        return {
            "paper": typed.get("paper") or "a4",
            "columns": typed.get("columns") or 3,
            "rows": typed.get("rows") or 8,
            "skip": typed.get("skip") or 0,
        }


class BlankForm(LabelForm):
    """How many blank labels, and on what."""

    count = forms.IntegerField(min_value=1, max_value=MOST_AT_ONCE, label="How many", initial=24)

    field_order = ("count", "paper", "columns", "rows", "skip")
