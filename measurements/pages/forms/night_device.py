"""A device that somebody brought to a night: its tag, whose it is, and its design or a new recipe."""

from __future__ import annotations

from typing import Any

from django import forms

from measurements.pages import words
from measurements.pages.forms.recipe import OTHER_CORE, RecipeFields
from measurements.queries.rows import DesignRow
from measurements.queries.rows_of_nights import AttendeeRow

NEW_DESIGN = "new"
SOMEBODY_NEW = "new"

NOT_CHOSEN = ""


class NightDeviceForm(RecipeFields):
    """Registered by the operator, on behalf of who brought it."""

    use_required_attribute = False

    tag = forms.CharField(
        max_length=64, label="Tag", help_text="What is written on it. It is never published."
    )
    contributor = forms.ChoiceField(label="Who brought it")
    name = forms.CharField(
        required=False,
        max_length=64,
        label="Their name",
        help_text="Only for somebody who is not in the list. The name of an account, or a guest's.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    origin = forms.ChoiceField(
        required=False, choices=list(words.ORIGINS.items()), label="Where it comes from"
    )
    design = forms.ChoiceField(label="Design", error_messages={"required": "Choose the design."})

    def __init__(
        self,
        people: tuple[AttendeeRow, ...],
        designs: tuple[DesignRow, ...],
        *,
        data: Any = None,
        initial: dict[str, Any] | None = None,
    ) -> None:
        # nothing is chosen for a hurried hand: evidence would be filed under the wrong design
        start = {
            "contributor": NOT_CHOSEN if people else SOMEBODY_NEW,
            "design": NOT_CHOSEN if designs else NEW_DESIGN,
        }
        super().__init__(data, initial={**start, **(initial or {})})
        self.fill_choices()
        self.fields["contributor"].choices = [  # type: ignore[attr-defined]
            *([(NOT_CHOSEN, "choose who brought it")] if people else []),
            *((row.key, f"{row.name} (guest)" if row.is_guest else row.name) for row in people),
            (SOMEBODY_NEW, "somebody new"),
        ]
        self.fields["design"].choices = [  # type: ignore[attr-defined]
            *([(NOT_CHOSEN, "choose the design")] if designs else []),
            *((row.key, row.title) for row in designs),
            (NEW_DESIGN, "another recipe, described below"),
        ]

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        if cleaned.get("contributor") == SOMEBODY_NEW and not cleaned.get("name"):
            self.add_error("name", "Say who brought it.")
        if cleaned.get("design") == NEW_DESIGN:
            if not cleaned.get("turns") and not self.has_error("turns"):
                self.add_error("turns", "Count the turns.")
            if not cleaned.get("core_part"):
                self.add_error("core_part", "Choose the core, or 'not listed' and give its size.")
        return cleaned

    @property
    def is_new_design(self) -> bool:
        chosen = self.data.get("design") if self.is_bound else self.initial["design"]
        return chosen == NEW_DESIGN

    @property
    def core_folded_open(self) -> bool:
        """Whether the fields of an unlisted core must be open."""
        return self.is_bound and self.data.get("core_part") == OTHER_CORE
