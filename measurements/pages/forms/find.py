"""What a look-up asks: bands, ratio, purpose, benchmark, and on the list the rest of the recipe."""

from __future__ import annotations

from typing import Any

from django import forms

from measurements.pages import words
from measurements.queries import reference
from measurements.queries.design_filters import ORDERS, DesignFilters

ANY = ("", "any")
RATIOS = ("1:1", "2:1", "4:1", "9:1", "16:1", "49:1", "64:1")
ORDER_WORDS = {
    "verdict": "best supported first",
    "rejection": "highest median first",
    "devices": "most devices first",
    "title": "by name",
}
BENCHMARK_LOW_DB, BENCHMARK_HIGH_DB, BENCHMARK_STEP_DB = 10, 40, 0.5


def choices(said: dict[str, str]) -> list[tuple[str, str]]:
    """Choices of a select, an open one first."""
    return [ANY, *said.items()]


class FindForm(forms.Form):
    """The question of the first page. Everything is optional; what is left out stays open."""

    use_required_attribute = False

    band = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label="Bands")
    purpose = forms.ChoiceField(required=False, choices=choices(words.PURPOSES), label="What it is for")
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

    def __init__(self, data: Any) -> None:
        super().__init__(data)
        self.fields["benchmark_db"].widget.attrs["placeholder"] = f"{reference.benchmark_db():g}"
        self.fields["band"].choices = [(row.band, row.band) for row in reference.bands()]  # type: ignore[attr-defined]

    @property
    def bands(self) -> tuple[str, ...]:
        return tuple(self.cleaned_data.get("band") or ())

    @property
    def benchmark(self) -> float:
        """The benchmark asked for, or the group's."""
        asked = self.cleaned_data.get("benchmark_db")
        return reference.benchmark_db() if asked is None else asked

    @property
    def filters(self) -> DesignFilters:
        return DesignFilters(
            ratio=self.cleaned_data["ratio"] or None, purpose=self.cleaned_data["purpose"] or None
        )


class ListForm(FindForm):
    """The question of the list of designs."""

    principle = forms.ChoiceField(required=False, choices=choices(words.PRINCIPLES), label="Principle")
    mix = forms.ChoiceField(required=False, label="Mix")
    core = forms.CharField(
        required=False, max_length=64, label="Core", widget=forms.TextInput(attrs={"placeholder": "any part"})
    )
    turns_min = forms.IntegerField(required=False, min_value=1, max_value=200, label="Turns from")
    turns_max = forms.IntegerField(required=False, min_value=1, max_value=200, label="Turns to")
    style = forms.ChoiceField(required=False, choices=choices(words.STYLES), label="Winding")
    verdict = forms.ChoiceField(
        required=False,
        choices=[ANY, *((name, said.word.lower()) for name, said in words.VERDICTS.items())],
        label="Verdict",
    )
    order = forms.ChoiceField(
        required=False, choices=[(name, ORDER_WORDS[name]) for name in ORDERS], label="Order"
    )

    def __init__(self, data: Any) -> None:
        super().__init__(data)
        self.fields["mix"].choices = [ANY, *((row.name, row.name) for row in reference.mixes())]  # type: ignore[attr-defined]

    @property
    def filters(self) -> DesignFilters:
        names = ("ratio", "purpose", "principle", "mix", "core", "turns_min", "turns_max", "style", "verdict")
        return DesignFilters(**{name: self.cleaned_data[name] or None for name in names})

    @property
    def folded_open(self) -> bool:
        """Whether a filter that is folded away is in use or at fault."""
        folded = ("band", "benchmark_db", "principle", "mix", "core", "turns_min", "turns_max", "style")
        return any(self.data.get(name) or self.has_error(name) for name in folded)

    @property
    def chosen_order(self) -> str:
        return self.cleaned_data["order"] or ORDERS[0]
