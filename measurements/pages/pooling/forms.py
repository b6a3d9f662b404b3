"""The one line that joins a pool."""

from __future__ import annotations

from django import forms


class JoinForm(forms.Form):
    """An invitation, and how the group is called in the pool."""

    use_required_attribute = False

    invitation = forms.CharField(
        max_length=400,
        label="Invitation",
        help_text="The whole line that the keeper gave you: address, key and code in one.",
        widget=forms.Textarea(attrs={"rows": 3, "autocomplete": "off", "spellcheck": "false"}),
        error_messages={"required": "Paste the line that the keeper gave you."},
    )
    group_name = forms.CharField(
        max_length=64,
        label="This group's name",
        help_text="The keeper reads it. It is in no pooled release.",
        error_messages={"required": "Name the group."},
    )
