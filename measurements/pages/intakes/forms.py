"""What a manifest says of one file of an intake: whose it is, which device, which test, in which role."""

from __future__ import annotations

import re
from typing import Any

from django import forms

from measurements.pages.layout import procedures, wording
from measurements.pages.layout.procedures import ROLE_LABELS
from measurements.selectors.designs.rows import DesignRow
from measurements.services.uploads.uploads import KINDS, METHODS, ROLES

PAIR_ROLES = ("pair_ab", "pair_ac", "pair_bc")
KIND_CHOICES = [("", "–"), *((kind, wording.KINDS[kind]) for kind in KINDS)]
METHOD_CHOICES = [("", "by the files"), *((name, wording.METHODS[name]) for name in METHODS)]
# the form of one method words it for that method; a manifest serves all of them
ROLE_WORDS = {"far_load": "Far side in its load"}
ROLE_CHOICES = [
    ("sweep", "sweep"),
    *(
        (role, ROLE_WORDS.get(role) or ROLE_LABELS.get(role, role))
        for role in (*ROLES, *PAIR_ROLES)
        if role != "sweep"
    ),
]


class AssignmentForm(forms.Form):
    """The manifest's columns for one file, but its name."""

    use_required_attribute = False

    tag = forms.CharField(required=False, max_length=64, label="Tag")
    contributor = forms.CharField(
        required=False, max_length=64, label="Who brought it", help_text="The name on the night's list."
    )
    kind = forms.ChoiceField(required=False, choices=KIND_CHOICES, label="Test")
    method = forms.ChoiceField(
        required=False, choices=METHOD_CHOICES, label="Method", help_text="Of an insertion loss test."
    )
    role = forms.ChoiceField(required=False, choices=ROLE_CHOICES, label="This file is")
    ratio = forms.CharField(required=False, max_length=16, label="Ratio", help_text="Empty: the design's.")
    load_ohm = forms.CharField(required=False, max_length=16, label="Load, ohm")
    series_ohm = forms.CharField(required=False, max_length=16, label="Series resistor, ohm")
    design = forms.ChoiceField(
        required=False, label="Design", help_text="Only for a device that is new here."
    )
    measured_on = forms.CharField(
        required=False, max_length=10, label="Measured on", help_text="2026-11-25; empty: the night's day."
    )

    def __init__(
        self,
        data: Any = None,
        *,
        initial: dict[str, Any] | None = None,
        designs: tuple[DesignRow, ...] = (),
    ) -> None:
        by_title = {row.title: row.key for row in designs}  # a manifest may name a design by either
        given = dict(initial or {})
        given["design"] = by_title.get(given.get("design", ""), given.get("design", ""))
        super().__init__(data, initial=given)
        self.fields["design"].choices = [  # type: ignore[attr-defined]
            ("", "its own"),
            *((row.key, row.title) for row in designs),
        ]
        for name in ("kind", "method", "role", "design"):
            self._admit(name, given.get(name))

    def _admit(self, name: str, given: Any) -> None:
        """Keep an invalid word of the manifest visible so that the user can correct it."""
        field = self.fields[name]
        if given and given not in dict(field.choices):  # type: ignore[attr-defined]
            field.choices = [*field.choices, (given, f"{given} (unknown)")]  # type: ignore[attr-defined]

    def assignment(self) -> dict[str, str]:
        """Return the columns as `services.intakes.intakes` takes them."""
        return {name: str(value) for name, value in self.cleaned_data.items()}


_COLUMN = re.compile(r"\b([Cc]olumn) (" + "|".join(AssignmentForm.base_fields) + r")\b")


def translate_columns(reason: str) -> str:
    """Explain why a file was refused, with the form's names for its columns."""
    return _COLUMN.sub(
        lambda found: f"{found[1]} “{AssignmentForm.base_fields[found[2]].label}”",
        procedures.translate_roles(reason),
    )
