"""Signing in and the password."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms

from measurements.selectors.accounts.credentials import SessionRow
from measurements.services.accounts import access_tokens

# A form that makes a way into the account: it asks for the present password where
# `pages.accounts.reauthentication` wants it.


class ReauthenticationForm(forms.Form):
    """asks_present: whether the form asks for the present password."""

    present = forms.CharField(
        max_length=256,
        strip=False,
        label="Present password",
        widget=forms.PasswordInput(attrs={"autocomplete": "current-password"}),
    )

    def __init__(self, data: Any = None, *, asks_present: bool = False) -> None:
        super().__init__(data)
        if not asks_present:
            del self.fields["present"]

    def said(self) -> dict[str, Any]:
        """Return the fields of the valid form beside the password."""
        return {name: value for name, value in self.cleaned_data.items() if name != "present"}


class ProofForm(ReauthenticationForm):
    """The present password alone, or nothing where a second factor is shown."""


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


class PasswordForm(ReauthenticationForm):
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


class EndSessionForm(ReauthenticationForm):
    """Which of the other browsers is signed out. others: rows of `selectors.accounts.credentials`."""

    field_order = ("session", "present")

    session = forms.ChoiceField(label="Browser")

    def __init__(self, data: Any = None, *, others: Sequence[SessionRow], asks_present: bool = False) -> None:
        super().__init__(data, asks_present=asks_present)
        self.fields["session"].choices = [(row.name, _describe_session(row)) for row in others]


def _describe_session(row: SessionRow) -> str:
    return f"signed in {row.opened_at:%Y-%m-%d, %H:%M}" if row.opened_at else "signed in just now"


class DeleteAccountForm(forms.Form):
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


# A new access token.

TOKEN_DAYS = ((30, "a month"), (90, "three months"), (365, "a year"), (1095, "three years"))

TOKEN_SCOPES = (
    (access_tokens.READ, "Reading only: evidence, your devices and tests"),
    (access_tokens.UPLOAD, "Reading and uploading: also stores devices and tests"),
)


class TokenForm(ReauthenticationForm):
    """What it is called, what it may do, how long."""

    field_order = ("label", "scope", "days", "present")

    label = forms.CharField(
        max_length=access_tokens.MOST_LABEL,
        label="Name",
        help_text="What uses it, such as “bench laptop”. You find it again by this name.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Name what will use it."},
    )
    scope = forms.ChoiceField(choices=TOKEN_SCOPES, label="What it may do", initial=access_tokens.READ)
    days = forms.TypedChoiceField(choices=TOKEN_DAYS, coerce=int, label="Good for", initial=90)
