"""A form that makes a way into the account: it asks for the present password where `pages.proof` wants it."""

from __future__ import annotations

from typing import Any

from django import forms


class ProvenForm(forms.Form):
    """asks_present: whether the present password is asked for."""

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
        """What the valid form says beside the password."""
        return {name: value for name, value in self.cleaned_data.items() if name != "present"}
