"""What a look-up asks: bands, ratio, purpose, benchmark, and on the list the rest of the recipe."""

from __future__ import annotations

from typing import Any

from django import forms

from measurements.errors import BenchnightError
from measurements.pages.designs import judged_words
from measurements.pages.layout import wording
from measurements.rf.ferrites import core_names
from measurements.selectors.designs.design_filters import DESIGN_ORDERS, DesignFilters, DesignWords
from measurements.selectors.reference import reference
from measurements.services.designs.build_phrases import MOST_CHARACTERS
from measurements.services.designs.designs import read_said_parts
from measurements.services.designs.recipe_cores import SIZE_KEYS, parse_length_mm
from measurements.verdict.judged_kinds import COMMON_MODE

ANY = ("", "any")

RATIOS = ("1:1", "2:1", "4:1", "9:1", "16:1", "49:1", "64:1")

ORDER_WORDS = {
    "verdict": "best supported first",
    "rejection": "highest median rejection first",
    "loss": "least median loss first",
    "swr": "least median SWR first",
    "devices": "most devices first",
    "title": "by name",
}

BENCHMARK_LOW_DB, BENCHMARK_HIGH_DB, BENCHMARK_STEP_DB = 10, 40, 0.5
LIMIT_LOW, LIMIT_HIGH, LIMIT_STEP = 0.01, 10, 0.05
LIMIT_FAULT = "Choose a loss from 0.01 to 10 dB, or an SWR from 1.01 to 10."


def build_choices(said: dict[str, str]) -> list[tuple[str, str]]:
    """Return choices of a select, an open one first."""
    return [ANY, *said.items()]


class FindForm(forms.Form):
    """The question of the first page. Everything is optional; what is left out stays open."""

    use_required_attribute = False

    band = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label="Bands")
    purpose = forms.ChoiceField(
        required=False, choices=build_choices(wording.PURPOSES), label="What it is for"
    )
    ratio = forms.CharField(
        required=False,
        max_length=16,
        label="Ratio",
        widget=forms.TextInput(attrs={"list": "ratios", "placeholder": "any", "autocomplete": "off"}),
    )
    benchmark_db = forms.FloatField(
        required=False,
        label="Benchmark, dB",
        min_value=BENCHMARK_LOW_DB,
        max_value=BENCHMARK_HIGH_DB,
        widget=forms.NumberInput(
            attrs={
                "min": BENCHMARK_LOW_DB,
                "max": BENCHMARK_HIGH_DB,
                "step": BENCHMARK_STEP_DB,
                "inputmode": "decimal",
            }
        ),
        error_messages={
            "invalid": "Choose a benchmark from 10 to 40 dB.",
            "min_value": "Choose a benchmark from 10 to 40 dB.",
            "max_value": "Choose a benchmark from 10 to 40 dB.",
        },
    )

    kind = forms.ChoiceField(
        required=False,
        choices=[("", "what matters for the purpose"), *judged_words.SWITCH_WORDS.items()],
        label="Judged by",
    )
    limit = forms.FloatField(
        required=False,
        label="Limit",
        min_value=LIMIT_LOW,
        max_value=LIMIT_HIGH,
        widget=forms.NumberInput(attrs={"step": LIMIT_STEP, "inputmode": "decimal"}),
        error_messages=dict.fromkeys(("invalid", "min_value", "max_value"), LIMIT_FAULT),
    )

    def __init__(self, data: Any) -> None:
        super().__init__(data)
        self.fields["benchmark_db"].widget.attrs["placeholder"] = f"{reference.get_benchmark_db():g}"
        self.fields["band"].choices = [(row.band, row.band) for row in reference.list_bands()]  # type: ignore[attr-defined]

    @property
    def bands(self) -> tuple[str, ...]:
        return tuple(self.cleaned_data.get("band") or ())

    @property
    def benchmark(self) -> float:
        """Return the benchmark asked for, or the group's."""
        asked = self.cleaned_data.get("benchmark_db")
        return reference.get_benchmark_db() if asked is None else asked

    @property
    def asked_kind(self) -> str | None:
        """Return the kind of test asked for; None for what each design is judged by first."""
        return self.cleaned_data.get("kind") or None

    @property
    def list_kind(self) -> str | None:
        """Return what a list is about: the kind asked for, or that of the purpose; None: several."""
        principle = self.cleaned_data.get("principle")
        return judged_words.choose_kind(self.asked_kind, self.cleaned_data.get("purpose"), principle)

    @property
    def question(self) -> dict[str, Any]:
        """Return the question to the evidence, as `selectors.designs.designs` takes it."""
        if self.errors:
            return {}
        limit = self.cleaned_data.get("limit")
        return {
            "bands": self.bands,
            "benchmark_db": self.benchmark,
            "kind": self.asked_kind,
            "metric_limit": None if self.asked_kind == COMMON_MODE else limit,
        }

    @property
    def filters(self) -> DesignFilters:
        return DesignFilters(
            ratio=self.cleaned_data["ratio"] or None, purpose=self.cleaned_data["purpose"] or None
        )


class ListForm(FindForm):
    """The question of the list of designs."""

    q = forms.CharField(
        required=False,
        max_length=MOST_CHARACTERS,
        label="Design",
        widget=forms.TextInput(attrs={"type": "search", "placeholder": "such as 12t RG-316 FT240-31"}),
    )
    principle = forms.ChoiceField(
        required=False, choices=build_choices(wording.PRINCIPLES), label="Principle"
    )
    mix = forms.ChoiceField(required=False, label="Mix")
    core = forms.CharField(
        required=False,
        max_length=64,
        label="Core",
        widget=forms.TextInput(attrs={"placeholder": "any, such as FT240-31"}),
    )
    turns_min = forms.IntegerField(required=False, min_value=1, max_value=200, label="Turns from")
    turns_max = forms.IntegerField(required=False, min_value=1, max_value=200, label="Turns to")
    style = forms.ChoiceField(required=False, choices=build_choices(wording.STYLES), label="Winding")
    verdict = forms.ChoiceField(
        required=False,
        choices=[ANY, *((name, said.word.lower()) for name, said in wording.VERDICTS.items())],
        label="Verdict",
    )
    order = forms.ChoiceField(
        required=False, choices=[(name, ORDER_WORDS[name]) for name in DESIGN_ORDERS], label="Order"
    )

    def __init__(self, data: Any) -> None:
        super().__init__(data)
        self.fields["mix"].choices = [ANY, *((row.name, row.name) for row in reference.list_mixes())]  # type: ignore[attr-defined]

    @property
    def filters(self) -> DesignFilters:
        names = ("ratio", "purpose", "principle", "mix", "core", "turns_min", "turns_max", "style", "verdict")
        typed = self.cleaned_data["q"]
        words = DesignWords(**read_said_parts(typed)) if typed else None
        return DesignFilters(**{name: self.cleaned_data[name] or None for name in names}, words=words)

    @property
    def folded_open(self) -> bool:
        """Say whether a filter that is folded away is in use or at fault."""
        folded = (
            "band",
            "benchmark_db",
            "limit",
            "principle",
            "mix",
            "core",
            "turns_min",
            "turns_max",
            "style",
        )
        return any(self.data.get(name) or self.has_error(name) for name in folded)

    @property
    def chosen_order(self) -> str:
        return self.cleaned_data["order"] or DESIGN_ORDERS[0]


# The recipe of a new device, as fields. Mixed into the upload form; the rarer fields are folded away.

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

    purpose = forms.ChoiceField(
        required=False, choices=list(wording.PURPOSES.items()), label="What it is for"
    )
    recipe_ratio = forms.CharField(
        required=False,
        max_length=16,
        initial="1:1",
        label="Ratio",
        widget=forms.TextInput(attrs={"list": "ratios", "autocomplete": "off"}),
    )
    core_part = forms.ChoiceField(required=False, label="Core")
    core_mix = forms.ChoiceField(required=False, label="Mix", help_text="Only for a core that is not listed.")
    core_shape = forms.ChoiceField(required=False, choices=list(wording.SHAPES.items()), label="Shape")
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
    style = forms.ChoiceField(required=False, choices=list(wording.STYLES.items()), label="Winding")
    conductor = forms.ChoiceField(required=False, label="Conductor")
    principle = forms.ChoiceField(required=False, choices=list(wording.PRINCIPLES.items()), label="Principle")
    split = forms.BooleanField(required=False, label="Wound in two halves across the core")

    def fill_choices(self) -> None:
        """Cores, mixes and conductors are reference data, not constants."""
        listed = [(row.part, core_names.describe_core(row.look)) for row in reference.list_cores()]
        mixes = [(row.name, row.name) for row in reference.list_mixes()]
        conductors = [(row.name, row.name) for row in reference.list_conductors()]
        self.fields["core_part"].choices = [  # type: ignore[attr-defined]
            ("", "choose a core"),
            (OTHER_CORE, "not listed: give shape and size"),
            *listed,
        ]
        self.fields["core_mix"].choices = [("", "choose a mix"), *mixes, ("unknown", "nobody knows")]  # type: ignore[attr-defined]
        self.fields["conductor"].choices = [*conductors, ("other", "other")]  # type: ignore[attr-defined]
        self.fields["conductor"].initial = "other"

    def recipe(self) -> dict[str, Any]:
        """Return the recipe as `services.designs.designs` takes it."""
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
        """Parse a recipe that is still being typed; faulty and empty fields are None."""
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
        return parse_length_mm(text, "size")
    except BenchnightError:
        return None  # half typed: said when the form is sent


def get_recipe_field(name: str) -> str:
    """Return the field of the form that a fault of the recipe belongs to (`cores.0.mix` -> `core_mix`)."""
    parts = [part for part in name.split(".") if not part.isdigit()]
    return FIELD_NAMES.get(".".join(parts), FIELD_NAMES.get(parts[0], name))
