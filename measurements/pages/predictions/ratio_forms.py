"""A ratio device as fields: which ratio, how it is wound, and what is in the drawer."""

from __future__ import annotations

from typing import Any

from django import forms
from django.http import QueryDict

from measurements.pages.layout import wording
from measurements.rf.ferrites import core_names
from measurements.selectors.predictions.proposals import STACKS
from measurements.selectors.predictions.ratio_predictions import (
    MOST_TURNS,
    STYLES_BY_PRINCIPLE,
    RatioRequest,
)
from measurements.selectors.reference import reference

PRINCIPLES = (
    ("voltage", "Transformer: unun or voltage balun, on one core"),
    ("current", "Current balun: equal lines, a core for each"),
)
USUAL = {"stacked": "2", "ratio": "49:1", "principle": "voltage", "style": "single"}
CAPACITORS = (("none", "none"), ("best", "the best of 47 to 220 pF, where one helps"))


class RatioForm(forms.Form):
    """What ratio device should I wind? Turns and one core given: what would that one show?"""

    use_required_attribute = False

    band = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label="Bands")
    ratio = forms.CharField(
        required=False, max_length=12, label="Ratio", help_text="Such as 4:1, 9:1, 49:1 or 64:1"
    )
    principle = forms.ChoiceField(required=False, choices=PRINCIPLES, label="Built as")
    style = forms.ChoiceField(required=False, label="Winding", help_text="49:1 takes a single wire")
    conductor = forms.ChoiceField(required=False, label="Conductor")
    capacitor = forms.ChoiceField(
        required=False, choices=CAPACITORS, label="Capacitor across the 50 ohm side"
    )
    mix = forms.MultipleChoiceField(required=False, widget=forms.CheckboxSelectMultiple, label="Mixes")
    core = forms.MultipleChoiceField(
        required=False, label="Only these cores", widget=forms.SelectMultiple(attrs={"size": 8})
    )
    stacked = forms.TypedChoiceField(
        required=False,
        coerce=int,
        empty_value=2,
        choices=[(count, str(count)) for count in STACKS],
        label="Cores on top of each other",
        help_text="At most; with turns given, exactly",
    )
    turns = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST_TURNS,
        label="Turns at the 50 ohm side",
        help_text="Only to predict one winding on one core",
    )
    far_turns = forms.IntegerField(
        required=False,
        min_value=1,
        max_value=MOST_TURNS,
        label="Turns of the far side",
        help_text="Left empty: by the ratio",
    )

    def __init__(self, data: QueryDict) -> None:
        given = data.copy()
        for name, usual in (
            ("stacked", "2"),
            ("ratio", "49:1"),
            ("principle", "voltage"),
            ("style", "single"),
        ):
            given.setdefault(name, usual)
        super().__init__(given)
        self.fields["band"].choices = [(row.band, row.band) for row in reference.list_bands()]  # type: ignore[attr-defined]
        named = [(row.name, row.name) for row in reference.list_conductors() if row.name != "other"]
        self.fields["conductor"].choices = [("", "other, some 3 mm thick"), *named]  # type: ignore[attr-defined]
        styles = dict.fromkeys(style for each in STYLES_BY_PRINCIPLE.values() for style in each)
        self.fields["style"].choices = [(style, wording.STYLES[style]) for style in styles]  # type: ignore[attr-defined]
        rings = [row for row in reference.list_cores() if row.inner_mm and row.shape == "toroid"]
        known = {row.mix for row in rings}
        mixes = [(row.name, row.name) for row in reference.list_mixes() if row.name in known]
        self.fields["mix"].choices = mixes  # type: ignore[attr-defined]
        self.fields["core"].choices = [(row.part, core_names.describe_core(row.look)) for row in rings]  # type: ignore[attr-defined]

    @property
    def bands(self) -> tuple[str, ...]:
        return tuple(self.cleaned_data.get("band") or ())

    @property
    def request(self) -> RatioRequest:
        """Return the request that the fields make."""
        typed: dict[str, Any] = self.cleaned_data
        return RatioRequest(
            bands=self.bands,
            ratio=typed["ratio"] or "49:1",
            principle=typed["principle"] or "voltage",
            style=typed["style"] or "single",
            conductor=typed["conductor"] or "other",
            mixes=tuple(typed["mix"]),
            parts=tuple(typed["core"]),
            stacked=typed["stacked"],
            turns=typed["turns"],
            far_turns=typed["far_turns"],
            capacitor=typed["capacitor"] or "none",
        )
