"""Signing in and the password."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from measurements.pages.forms.proof import ProvenForm
from measurements.queries.signed_in import SessionRow


class SignInForm(forms.Form):
    """Name and password."""

    name = forms.CharField(
        max_length=64, label="Name", widget=forms.TextInput(attrs={"autocomplete": "username"})
    )
    password = forms.CharField(
        max_length=256,
        strip=False,
        label="Password",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )


class PasswordForm(ProvenForm):
    """A new password, typed twice; the present one first, where there is one."""

    password = forms.CharField(
        max_length=256,
        strip=False,
        label="New password",
        help_text="At least 12 characters; a few words in a row are good.",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )
    again = forms.CharField(
        max_length=256,
        strip=False,
        label="The same again",
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
    )

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("password") and cleaned.get("again") and cleaned["password"] != cleaned["again"]:
            self.add_error("again", "The two are not the same.")
        return cleaned


class EndSessionForm(ProvenForm):
    """Which of the other browsers is signed out. others: rows of `queries.signed_in`."""

    field_order = ("session", "present")

    session = forms.ChoiceField(label="Browser")

    def __init__(self, data: Any = None, *, others: Sequence[SessionRow], asks_present: bool = False) -> None:
        super().__init__(data, asks_present=asks_present)
        self.fields["session"].choices = [(row.name, _said(row)) for row in others]


def _said(row: SessionRow) -> str:
    return f"signed in {row.opened_at:%Y-%m-%d, %H:%M}" if row.opened_at else "signed in just now"


class LeaveForm(forms.Form):
    """The account's name once more, and its password where it has one."""

    use_required_attribute = False

    name = forms.CharField(
        max_length=64, label="Name of the account", widget=forms.TextInput(attrs={"autocomplete": "off"})
    )
    password = forms.CharField(
        max_length=256,
        strip=False,
        label="Password",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, data: Any = None, *, asks_password: bool) -> None:
        super().__init__(data)
        if not asks_password:
            del self.fields["password"]
