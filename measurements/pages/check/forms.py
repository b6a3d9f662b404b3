"""The one question of the check page: a file, and what it is."""

from __future__ import annotations

from typing import Any

from django import forms

KIND_CHOICES = (
    ("", "I do not know: guess it and ask me"),
    ("common_mode", "Common mode: does it choke?"),
    ("load_match", "Load match: SWR with the load resistor"),
    ("insertion_loss", "Loss, straight through"),
)
CALIBRATED_CHOICES = (
    ("", "I do not know"),
    ("true", "yes, at the ends of the jig's leads"),
    ("false", "no"),
)
MOST_CHARACTERS = 120


class SweepCheckForm(forms.Form):
    """Only the file is needed; the answer asks for the rest."""

    use_required_attribute = False

    sweep = forms.FileField(
        label="Sweep",
        help_text="Touchstone or CSV, as your analyser saves it.",
        error_messages={"required": "Choose the file of the sweep.", "empty": "This file is empty."},
    )
    kind = forms.ChoiceField(required=False, choices=KIND_CHOICES, label="What was tested")
    ratio = forms.CharField(
        required=False,
        max_length=16,
        label="Ratio",
        help_text="Such as 4:1; empty: 1:1",
        widget=forms.TextInput(attrs={"list": "ratios", "autocomplete": "off"}),
    )
    load_ohm = forms.CharField(
        required=False,
        max_length=16,
        label="Load resistor, ohm",
        help_text="As measured; only for a load match",
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
    calibrated = forms.ChoiceField(
        required=False, choices=CALIBRATED_CHOICES, label="Was the analyser calibrated?"
    )
    build = forms.CharField(
        required=False,
        max_length=MOST_CHARACTERS,
        label="The build, as you would say it",
        help_text="Such as 12t RG316 FT240-31. The answer then sets its design's evidence beside yours.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )

    def list_settings(self) -> dict[str, Any]:
        """Collect the settings as `services.uploads.uploads` takes them."""
        typed = self.cleaned_data
        found = {"kind": typed["kind"], "ratio": typed["ratio"], "calibrated": typed["calibrated"]}
        if typed["kind"] == "insertion_loss":
            found["method"] = "direct"
        if typed["kind"] == "load_match":
            found["load_ohm"] = typed["load_ohm"]
        return found
