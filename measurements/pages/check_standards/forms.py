"""What is typed about a check standard: from when its sweeps count, why tests are let go."""

from __future__ import annotations

from django import forms

from measurements.pages.layout.form_handling import DateInput


class MarkForm(forms.Form):
    use_required_attribute = False
    counts_from = forms.DateField(
        label="Its sweeps count from",
        required=False,
        widget=DateInput(),
        help_text="Leave it empty to count all of them. Give a day after a repair, or for a new chart.",
    )


class ReleaseForm(forms.Form):
    use_required_attribute = False
    reason = forms.CharField(
        label="Why these tests count all the same",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Operators and stewards of the group read this.",
        error_messages={"required": "Say why the tests count although the check standard was out."},
    )
