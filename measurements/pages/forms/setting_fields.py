"""The fields that a method asks for beside its files: a number, a partner's test, readings typed in."""

from __future__ import annotations

import json
from typing import Any

from django import forms

from measurements.pages.bench import Setting
from measurements.queries.rows import TestRow

NO_PARTNERS = "You have none yet: store an insertion loss test of the trusted device first."
MOST_TYPED = 20_000


def field_of(asked: Setting, partners: tuple[TestRow, ...]) -> forms.Field:
    """The form field of a setting; `partners` are the tests that can be chosen as one."""
    if asked.shape == "partner":
        choices = [(row.key, f"{row.device_tag}, {row.measured_on} ({row.method})") for row in partners]
        empty = "choose a test" if partners else NO_PARTNERS
        return forms.ChoiceField(
            required=False, label=asked.label, help_text=asked.help, choices=[("", empty), *choices]
        )
    if asked.shape == "readings":
        return ReadingsField(required=False, max_length=MOST_TYPED, label=asked.label, help_text=asked.help)
    return forms.CharField(
        required=False,
        max_length=16,
        label=f"{asked.label}, {asked.unit}",
        help_text=asked.help,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )


class ReadingsField(forms.CharField):
    """Lines of frequency in MHz and value; cleans to the JSON text that the API takes, empty for none."""

    widget = forms.Textarea(attrs={"rows": 4, "cols": 24, "inputmode": "decimal", "spellcheck": "false"})

    def clean(self, value: Any) -> str:
        typed = super().clean(value)
        lines = [(number, line.strip()) for number, line in enumerate(typed.splitlines(), start=1)]
        found = [_reading(number, line) for number, line in lines if line]
        return json.dumps(found) if found else ""


def _reading(number: int, line: str) -> dict[str, float]:
    words = line.replace(";", " ").replace("\t", " ").split()
    try:
        if len(words) != 2:
            raise ValueError
        megahertz, value = (float(word.replace(",", ".")) for word in words)
        return {"frequency_hz": round(megahertz * 1e6, 3), "value": value}
    except ValueError as error:
        raise forms.ValidationError(
            f"Line {number}: give a frequency in MHz and the value, such as 7.1 31.2."
        ) from error
