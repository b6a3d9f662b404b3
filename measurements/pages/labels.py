"""A sheet of labels: how many columns and rows, on which paper, and where the first free one is."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

from django import forms

PAPERS = (("a4", "A4"), ("letter", "Letter"))
COLUMNS = tuple((str(count), str(count)) for count in range(1, 6))
ROWS = tuple((str(count), str(count)) for count in range(2, 17))
MOST_A_SHEET = 5 * 16
LONG_TAG, VERY_LONG_TAG = 9, 18  # characters; a tag is set smaller from there on


@dataclass(frozen=True)
class Label:
    """One label; `key` None is a place left free."""

    key: str | None
    tag: str = ""
    design: str = ""

    @property
    def size(self) -> str:
        """The class of the stylesheet that lets the tag fit."""
        if len(self.tag) >= VERY_LONG_TAG:
            return "is-very-long"
        return "is-long" if len(self.tag) >= LONG_TAG else "is-plain"


class SheetForm(forms.Form):
    """The sheet as its address says it."""

    paper = forms.ChoiceField(required=False, choices=PAPERS, label="Paper")
    columns = forms.ChoiceField(required=False, choices=COLUMNS, label="Columns")
    rows = forms.ChoiceField(required=False, choices=ROWS, label="Rows")
    skip = forms.IntegerField(
        required=False,
        min_value=0,
        max_value=MOST_A_SHEET - 1,
        label="Used already",
        help_text="Labels missing at the start of the first sheet.",
    )

    DEFAULTS: dict[str, Any] = {"paper": "a4", "columns": "3", "rows": "8", "skip": 0}

    @property
    def chosen(self) -> dict[str, Any]:
        """Every field; what is missing or faulty as it is by default."""
        cleaned = self.cleaned_data if self.is_valid() else getattr(self, "cleaned_data", {})
        return {name: cleaned.get(name) or default for name, default in self.DEFAULTS.items()}


def sheets(labels: Sequence[Label], *, columns: int, rows: int, skip: int) -> list[list[Label]]:
    """The labels sheet by sheet, the first `skip` places of the first one free."""
    size = columns * rows
    placed = [*([Label(None)] * (skip % size)), *labels]
    return [placed[start : start + size] for start in range(0, len(placed), size)]
