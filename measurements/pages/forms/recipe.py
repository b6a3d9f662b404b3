"""The recipe of a new device, as fields. Mixed into the upload form; the rarer fields are folded away."""

from __future__ import annotations

from typing import Any

from django import forms

from measurements.errors import BenchnightError
from measurements.ingest.recipe_cores import SIZE_KEYS, length_mm
from measurements.pages import words
from measurements.queries import reference

OTHER_CORE = "other"
FIELD_NAMES = {
    "purpose": "purpose",
    "principle": "principle",
    "ratio": "recipe_ratio",
    "cores": "core_part",
    "winding": "turns",
    "winding.turns": "turns",
    "winding.style": "style",
    "winding.split": "split",
    "winding.conductor": "conductor",
    "cores.part": "core_part",
    "cores.shape": "core_shape",
    "cores.mix": "core_mix",
    "cores.stacked": "stacked",
    "cores.outer_mm": "outer_mm",
    "cores.inner_mm": "inner_mm",
    "cores.height_mm": "height_mm",
}


class RecipeFields(forms.Form):
    """What a design is made of. Nothing is required here: it only counts where a new device is described."""

    purpose = forms.ChoiceField(required=False, choices=list(words.PURPOSES.items()), label="What it is for")
    recipe_ratio = forms.CharField(
        required=False,
        max_length=16,
        initial="1:1",
        label="Ratio",
        widget=forms.TextInput(attrs={"list": "ratios", "autocomplete": "off"}),
    )
    core_part = forms.ChoiceField(required=False, label="Core")
    core_mix = forms.ChoiceField(required=False, label="Mix", help_text="Only for a core that is not listed.")
    core_shape = forms.ChoiceField(required=False, choices=list(words.SHAPES.items()), label="Shape")
    outer_mm = forms.CharField(
        required=False, max_length=16, label="Outer diameter", help_text="61 mm or 2.4 in"
    )
    inner_mm = forms.CharField(required=False, max_length=16, label="Inner diameter")
    height_mm = forms.CharField(required=False, max_length=16, label="Height")
    stacked = forms.IntegerField(
        required=False,
        initial=1,
        min_value=1,
        max_value=200,
        label="Stacked",
        help_text="Cores on top of each other",
    )
    separate = forms.IntegerField(
        required=False,
        initial=1,
        min_value=1,
        max_value=24,
        label="Separate",
        help_text="Stacks beside each other",
    )
    turns = forms.IntegerField(
        required=False, min_value=1, max_value=200, label="Turns", help_text="Passes through the core"
    )
    style = forms.ChoiceField(required=False, choices=list(words.STYLES.items()), label="Winding")
    conductor = forms.ChoiceField(required=False, label="Conductor")
    principle = forms.ChoiceField(required=False, choices=list(words.PRINCIPLES.items()), label="Principle")
    split = forms.BooleanField(required=False, label="Wound in two halves across the core")

    def fill_choices(self) -> None:
        """Cores, mixes and conductors are reference data, not constants."""
        listed = [(row.part, _core_words(row)) for row in reference.cores()]
        mixes = [(row.name, row.name) for row in reference.mixes()]
        conductors = [(row.name, row.name) for row in reference.conductors()]
        self.fields["core_part"].choices = [  # type: ignore[attr-defined]
            ("", "choose a core"),
            (OTHER_CORE, "not listed: give shape and size"),
            *listed,
        ]
        self.fields["core_mix"].choices = [("", "choose a mix"), *mixes, ("unknown", "nobody knows")]  # type: ignore[attr-defined]
        self.fields["conductor"].choices = [*conductors, ("other", "other")]  # type: ignore[attr-defined]
        self.fields["conductor"].initial = "other"

    def recipe(self) -> dict[str, Any]:
        """The recipe as `ingest.designs` takes it."""
        typed = self.cleaned_data
        return {
            "purpose": typed["purpose"],
            "principle": typed["principle"],
            "ratio": typed["recipe_ratio"],
            "cores": [self._core()] * (typed["separate"] or 1),
            "winding": {
                "turns": typed["turns"],
                "style": typed["style"],
                "split": typed["split"],
                "conductor": typed["conductor"] or "other",
            },
        }

    def so_far(self) -> dict[str, Any]:
        """What can be read of a recipe that is still being typed; faulty and empty fields are None."""
        self.is_valid()
        self.cleaned_data = {name: self.cleaned_data.get(name) for name in RecipeFields.base_fields}
        if not self.cleaned_data["core_part"]:
            self.cleaned_data["core_shape"] = None  # a choice that only counts for a core not listed
        recipe = self.recipe()
        for core in recipe["cores"]:
            core.update({name: _length_mm(core[name]) for name in SIZE_KEYS if name in core})
        return recipe

    def _core(self) -> dict[str, Any]:
        typed = self.cleaned_data
        stacked = {"stacked": typed["stacked"] or 1}
        if typed["core_part"] and typed["core_part"] != OTHER_CORE:
            return {"part": typed["core_part"], **stacked}
        sizes = {name: typed[name] for name in ("outer_mm", "inner_mm", "height_mm") if typed[name]}
        return {"shape": typed["core_shape"], "mix": typed["core_mix"] or None, **sizes, **stacked}


def _length_mm(text: str) -> float | None:
    try:
        return length_mm(text, "size")
    except BenchnightError:
        return None  # half typed: said when the form is sent


def field_of(name: str) -> str:
    """The field of the form that a fault of the recipe belongs to (`cores.0.mix` -> `core_mix`)."""
    parts = [part for part in name.split(".") if not part.isdigit()]
    return FIELD_NAMES.get(".".join(parts), FIELD_NAMES.get(parts[0], name))


def _core_words(row: Any) -> str:
    sizes = [f"{size:g}" for size in (row.outer_mm, row.inner_mm, row.height_mm) if size is not None]
    size = f", {' / '.join(sizes)} mm" if sizes else ""
    return f"{row.part} ({row.shape}{size}, mix {row.mix})"
