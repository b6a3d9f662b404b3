"""The form of an analyser: two questions first, the numbers folded away; and that of its check sweeps."""

from __future__ import annotations

from typing import Any

from django import forms

from measurements.pages.layout.procedures import FileField

PATHS = (
    ("", "I do not know: the sweep decides"),
    ("1", "one: it sweeps from port 1 alone"),
    ("2", "both: it sweeps from either port"),
)
ENDS = (("open", "open"), ("short", "shorted"))

_NUMBERS: dict[str, tuple[str, str]] = {
    "reflection_residual": (
        "Residual of port 1, linear",
        "Directivity, source match and tracking after the calibration. Empty: 0.01 (40 dB).",
    ),
    "port2_match_db": (
        "Return loss of port 2, dB",
        "Empty: 20 dB on one path; on both paths as good as port 1.",
    ),
    "drift_db": ("Drift since the calibration, dB", "Empty: up to 0.1 dB."),
    "noise": ("Noise of one reading, linear", "Empty: 0.002."),
    "resistor_percent": (
        "Tolerance of your resistors, %",
        "Empty: 1 % for a value that you measured, 5 % for one read off the part.",
    ),
}

CHECK_FILES = (
    FileField(
        "check_through",
        "The through",
        "The jig closed on itself, S11 and S21. Shows the match of port 2.",
        required=False,
    ),
    FileField(
        "check_line",
        "An open or short at the end of 1 m of good coax",
        "S11. Shows tracking and source match, together with the load.",
        required=False,
    ),
    FileField(
        "check_load",
        "A load from another bag",
        "S11 of a load near 50 ohm that the calibration did not use. Shows directivity.",
        required=False,
    ),
)


class AnalyserForm(forms.Form):
    """An analyser as its owner describes it."""

    use_required_attribute = False

    name = forms.CharField(
        max_length=64, label="Your own name of it", help_text="Nobody else reads it, a steward neither."
    )
    paths = forms.ChoiceField(required=False, choices=PATHS, label="From how many ports does it sweep?")
    calibration = forms.CharField(
        required=False,
        max_length=200,
        label="How it is calibrated",
        help_text="Such as: own open, short and load at the clips.",
    )

    def __init__(self, data: Any = None, *, initial: dict[str, Any] | None = None) -> None:
        super().__init__(data, initial=initial)
        for name, (label, text) in _NUMBERS.items():
            self.fields[name] = forms.FloatField(
                required=False,
                label=label,
                help_text=text,
                widget=forms.TextInput(attrs={"inputmode": "decimal"}),
            )

    def first_fields(self) -> list[forms.BoundField]:
        """Return the fields that the form shows openly."""
        return [self[name] for name in ("name", "paths", "calibration")]

    def number_fields(self) -> list[forms.BoundField]:
        """Return the fields that the form folds away."""
        return [self[name] for name in _NUMBERS]

    @property
    def numbers_open(self) -> bool:
        """Say whether the folded fields must be open: something is in there."""
        return any(field.errors or field.value() not in (None, "") for field in self.number_fields())

    def fields_given(self) -> dict[str, Any]:
        """Return the fields as `services.analysers.analysers` takes them."""
        given = dict(self.cleaned_data)
        given["paths"] = int(given["paths"]) if given["paths"] else None
        return given


class CheckForm(forms.Form):
    """What a check sweep needs beside its file."""

    use_required_attribute = False

    line_end = forms.ChoiceField(choices=ENDS, label="What ended the coax", initial="open")
    load_ohm = forms.FloatField(
        required=False,
        min_value=25,
        max_value=100,
        label="The load by a meter, ohm",
        help_text="Needed with a sweep of the load.",
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )
