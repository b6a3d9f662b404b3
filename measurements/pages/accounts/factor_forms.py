"""Forms of second factors."""

from __future__ import annotations

from typing import Any

from django import forms

from measurements.services.accounts import passkeys

# names of the fields that show a second factor, apart from those of the forms that ask for it
CODE, PASSKEY = "factor_code", "factor_passkey"
MOST_CODE = 64


def _build_code_field(label: str, help_text: str) -> forms.CharField:
    return forms.CharField(
        max_length=MOST_CODE,
        label=label,
        help_text=help_text,
        widget=forms.TextInput(attrs={"autocomplete": "one-time-code", "inputmode": "text"}),
    )


class SecondStepForm(forms.Form):
    """A code of the app or a recovery code; a passkey's reply arrives in a field of its own."""

    factor_code = _build_code_field("Code", "Six digits from your app, or a recovery code.")

    def __init__(self, data: Any = None, *, asks_code: bool = True) -> None:
        super().__init__(data)
        if not asks_code:
            del self.fields[CODE]


class CodeAppForm(forms.Form):
    """The first code of a new app."""

    code = _build_code_field("Code", "Six digits that the app shows now.")


class PasskeyForm(forms.Form):
    """A name for a new passkey."""

    label = forms.CharField(
        max_length=passkeys.MOST_LABEL,
        label="Name",
        help_text="What holds it, such as “phone”.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
