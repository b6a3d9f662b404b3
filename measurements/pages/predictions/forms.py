"""What is to be wound, one winding, and an unmarked core, as fields."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict

from measurements.pages.designs.forms import BENCHMARK_HIGH_DB, BENCHMARK_LOW_DB, BENCHMARK_STEP_DB
from measurements.pages.layout import wording
from measurements.rf.ferrites import core_names
from measurements.selectors.predictions.proposals import STACKS, WindingRequest
from measurements.selectors.reference import reference

RATIOS = (
    ("1:1", "1:1"),
    ("4:1", "4:1, two lines"),
    ("9:1", "9:1, three lines"),
    ("16:1", "16:1, four lines"),
)
MAX_COUNT = 200  # of turns, and of cores on each other or beads on a cable
LENGTH = {"inputmode": "decimal", "autocomplete": "off"}


def _write_count_errors(what: str) -> dict[str, str]:
    """Build the error messages of a field for a whole number."""
    said = f"{what}: a whole number from 1 to {MAX_COUNT}."
    return dict.fromkeys(("required", "invalid", "min_value", "max_value"), said)


class WindingForm(forms.Form):
    """How it is wound and what it is held against: shared by the wish and by one winding."""

    use_required_attribute = False

    band = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label="Bands")
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
    ratio = forms.ChoiceField(
        required=False, choices=RATIOS, label="Ratio", help_text="Of a current balun; a choke is 1:1"
    )
    style = forms.ChoiceField(required=False, choices=list(wording.STYLES.items()), label="Winding")
    conductor = forms.ChoiceField(
        required=False, label="Conductor", help_text="Its size decides how many turns lie in the bore"
    )
    split = forms.BooleanField(required=False, label="Wound in two halves across the core")

    def __init__(self, data: Any) -> None:
        super().__init__(data)
        self.fields["benchmark_db"].widget.attrs["placeholder"] = f"{reference.get_benchmark_db():g}"
        self.fields["band"].choices = [(row.band, row.band) for row in reference.list_bands()]  # type: ignore[attr-defined]
        named = [(row.name, row.name) for row in reference.list_conductors() if row.name != "other"]
        self.fields["conductor"].choices = [("", "other, some 3 mm thick"), *named]  # type: ignore[attr-defined]

    @property
    def bands(self) -> tuple[str, ...]:
        return tuple(self.cleaned_data.get("band") or ())

    @property
    def benchmark(self) -> float:
        """Return the benchmark asked for, or the group's."""
        asked = self.cleaned_data.get("benchmark_db")
        return reference.get_benchmark_db() if asked is None else asked


class ProposalForm(WindingForm):
    """What should I wind? With what is in the drawer."""

    mix = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label="Mixes")
    core = forms.MultipleChoiceField(
        required=False, label="Only these cores", widget=forms.SelectMultiple(attrs={"size": 8})
    )
    stacked = forms.TypedChoiceField(
        required=False,
        coerce=int,
        empty_value=2,
        choices=[(count, str(count)) for count in STACKS],
        label="Cores on top of each other, at most",
    )

    def __init__(self, data: QueryDict) -> None:
        given = data.copy()
        given.setdefault("stacked", "2")  # the content of the field counts
        super().__init__(given)
        rings = [row for row in reference.list_cores() if row.inner_mm and row.shape in ("toroid", "bead")]
        known = {row.mix for row in rings}
        self.fields["mix"].choices = [
            (row.name, row.name) for row in reference.list_mixes() if row.name in known
        ]  # type: ignore[attr-defined]
        self.fields["core"].choices = [  # type: ignore[attr-defined]
            (row.part, core_names.describe_core(row.look)) for row in rings
        ]

    @property
    def wish(self) -> WindingRequest:
        typed = self.cleaned_data
        return WindingRequest(
            bands=self.bands,
            benchmark_db=typed["benchmark_db"],
            ratio=typed["ratio"] or "1:1",
            style=typed["style"] or "coax",
            conductor=typed["conductor"] or "other",
            split=typed["split"],
            mixes=tuple(typed["mix"]),
            parts=tuple(typed["core"]),
            stacked=typed["stacked"],
        )


class SingleWindingForm(WindingForm):
    """One winding: which core, how many, how many turns."""

    part = forms.ChoiceField(label="Core", error_messages={"required": "Choose the core."})
    stacked = forms.IntegerField(
        min_value=1,
        max_value=MAX_COUNT,
        initial=1,
        label="Cores stacked",
        help_text="Of beads: how many on the cable",
        error_messages=_write_count_errors("Count the cores"),
    )
    turns = forms.IntegerField(
        min_value=1, max_value=MAX_COUNT, label="Turns", error_messages=_write_count_errors("Count the turns")
    )

    def __init__(self, data: Any) -> None:
        super().__init__(data)
        self.fields["part"].choices = [  # type: ignore[attr-defined]
            (row.part, core_names.describe_core(row.look)) for row in reference.list_cores()
        ]

    @property
    def recipe(self) -> dict[str, Any]:
        """Return as `services.designs.designs` takes it."""
        typed = self.cleaned_data
        ratio = typed["ratio"] or "1:1"
        lines = {"1:1": 1, "4:1": 2, "9:1": 3, "16:1": 4}[ratio]
        return {
            "purpose": "choke" if lines == 1 else "balun",
            "principle": "current",
            "ratio": ratio,
            "cores": [{"part": typed["part"], "stacked": typed["stacked"]}] * lines,
            "winding": {
                "turns": typed["turns"],
                "style": typed["style"] or "coax",
                "split": typed["split"],
                "conductor": typed["conductor"] or "other",
            },
        }


class CoreIdentificationForm(forms.Form):
    """Which core is this?"""

    use_required_attribute = False

    turns = forms.IntegerField(
        min_value=1,
        max_value=MAX_COUNT,
        label="Turns on the core",
        help_text="Five to ten tell most; passes through the hole",
        error_messages=_write_count_errors("Count the turns on the core"),
    )
    outer_mm = forms.CharField(
        required=False, max_length=12, label="Outer diameter, mm", widget=forms.TextInput(LENGTH)
    )
    inner_mm = forms.CharField(
        required=False, max_length=12, label="Inner diameter, mm", widget=forms.TextInput(LENGTH)
    )
    height_mm = forms.CharField(
        required=False, max_length=12, label="Height, mm", widget=forms.TextInput(LENGTH)
    )
    sweep = forms.FileField(
        label="Sweep of the winding",
        help_text="As in a common-mode test: the winding between the two ports, 1 to 30 MHz or wider.",
        error_messages={"required": "Choose the file of the sweep.", "empty": "This file is empty."},
    )
    jig_open = forms.FileField(required=False, label="Jig with nothing attached")
    jig_short = forms.FileField(required=False, label="Jig linked")

    def clean(self) -> dict[str, Any]:
        typed = super().clean() or {}
        for name in ("outer_mm", "inner_mm", "height_mm"):
            try:
                text = typed.get(name, "").replace(",", ".").strip()
                typed[name] = float(text) if text else None
            except ValueError:
                self.add_error(name, "Give a length in millimetres, such as 35.55.")
        return typed

    @property
    def size_mm(self) -> tuple[float | None, float | None, float | None]:
        typed = self.cleaned_data
        return typed["outer_mm"], typed["inner_mm"], typed["height_mm"]
