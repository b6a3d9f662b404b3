"""One test of one device on the bench: the files of a procedure and the few numbers it asks for.

The jig, the calibration and the day are the night's; the ratio is the design's.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from django import forms
from django.utils import timezone

from measurements.disclosure import published_figures
from measurements.pages.designs.forms import OTHER_CORE, RecipeFields
from measurements.pages.layout import procedures, wording
from measurements.pages.layout.form_handling import DateInput
from measurements.pages.layout.procedures import SETTINGS, Procedure
from measurements.pages.uploads import forms as uploads_forms
from measurements.pages.uploads.forms import FileSlot, get_file_anchor
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.nights.rows import AttendeeRow
from measurements.services.uploads.staging import StagedFile

# a partner is chosen among one's own tests, which is a matter for a desk
BENCH_PROCEDURES = tuple(each for each in procedures.PROCEDURES if "partner" not in each.settings)


class BenchTestForm(forms.Form):
    """What the bench view asks for."""

    use_required_attribute = False

    def __init__(
        self,
        procedure: Procedure,
        *,
        data: Any = None,
        held: dict[str, StagedFile] | None = None,
        initial: dict[str, Any] | None = None,
    ) -> None:
        super().__init__(data, initial=initial)
        self.procedure = procedure
        self.held = held or {}
        for name in procedure.settings:
            self.fields[name] = uploads_forms.build_setting_field(SETTINGS[name], ())
        if procedure.kind in published_figures.KIND_RULES:
            self.fields["private"] = forms.BooleanField(required=False, label="Keep this test private")
        for each in procedure.main_files:  # a fault of a file is shown beside it
            self.fields[each.role] = get_file_anchor(each)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        typed_in = bool(cleaned.get("readings")) or self.has_error("readings")
        for each in self.procedure.main_files:
            missing = each.required and each.role not in self.held and not self.has_error(each.role)
            if missing and not typed_in:
                self.add_error(each.role, "Choose this file.")
        return cleaned

    def numbers(self) -> list[forms.BoundField]:
        """List the number fields that the form shows open."""
        return [
            self[name]
            for name in self.procedure.settings
            if SETTINGS[name].shape in ("number", "text", "dc", "dc_type", "dc_options")
        ]

    def private(self) -> forms.BoundField | None:
        """Return the choice to keep a test out of what is published, of kinds that are published."""
        return self["private"] if "private" in self.fields else None

    def readings(self) -> forms.BoundField | None:
        """Return lines typed in place of a file, folded away."""
        return self["readings"] if "readings" in self.fields else None

    def slots(self) -> list[FileSlot]:
        """List the files that the form needs."""
        return [
            FileSlot(
                each, self.held.get(each.role), list(self.errors.get(each.role, [])) if self.is_bound else []
            )
            for each in self.procedure.main_files
        ]

    def setting_texts(self, ratio: str) -> dict[str, Any]:
        """Return the settings as `services.uploads.uploads` takes them; on calibration the night's word
        counts.
        """
        return {
            "kind": self.procedure.kind,
            "method": self.procedure.method,
            "ratio": ratio,
            **{name: self.cleaned_data.get(name, "") for name in self.procedure.settings},
            "private": self.cleaned_data.get("private", False),
        }

    def fault_list(self) -> list[dict[str, str | None]]:
        """Return every fault with its field, for the page's script."""
        return [
            {"field": None if name == "__all__" else name, "detail": str(fault)}
            for name, faults in self.errors.items()
            for fault in faults
        ]


# A club night: when, with what, and who came to it.

CALIBRATED = (
    ("true", "yes, at the ends of the jig's leads"),
    ("", "not said yet"),
    ("false", "no: the night's tests are left out of evidence"),
)


Choices = Sequence[tuple[str, str]]


class NightForm(forms.Form):
    """The details of a night; all but the day can follow later."""

    use_required_attribute = False

    held_on = forms.DateField(label="Day", widget=DateInput())
    title = forms.CharField(
        required=False, max_length=120, label="Title", help_text="Such as: autumn bench night"
    )
    instrument = forms.CharField(
        required=False, max_length=120, label="Analyser", help_text="Kind and anything that tells it apart."
    )
    analyser = forms.ChoiceField(
        required=False,
        label="Described analyser",
        help_text="One of yours; every test of the night is computed with it.",
    )
    jig = forms.CharField(
        required=False, max_length=200, label="Jig", help_text="Clips, adapters and leads, in a few words."
    )
    calibrated = forms.ChoiceField(required=False, choices=CALIBRATED, label="Was the analyser calibrated?")
    calibration = forms.CharField(
        required=False, max_length=200, label="Calibration", help_text="Which standards, and when."
    )
    resistors = forms.CharField(
        required=False,
        max_length=200,
        label="Load resistors",
        help_text="Which values the set holds, and the power each bears.",
    )
    notes = forms.CharField(
        required=False,
        label="Notes",
        widget=forms.Textarea(attrs={"rows": 2}),
        help_text="Only this night's operators and the stewards read them.",
    )

    def __init__(
        self, data: Any = None, *, analysers: Choices = (), initial: dict[str, Any] | None = None
    ) -> None:
        super().__init__(data, initial={"held_on": timezone.localdate(), **(initial or {})})
        self.fields["analyser"].choices = [("", "not described"), *analysers]  # type: ignore[attr-defined]

    def fields_given(self) -> dict[str, Any]:
        """Return the fields as `services.nights.nights` takes them."""
        said = {"true": True, "false": False}
        return {**self.cleaned_data, "calibrated": said.get(self.cleaned_data["calibrated"])}


class PersonForm(forms.Form):
    """Somebody who brings devices. asks_same_person: a guest of this name came to an earlier night."""

    use_required_attribute = False
    asks_same_person = False

    name = forms.CharField(
        max_length=64,
        label="Name",
        help_text="Only this night's operators and the stewards read it. Members bring their labels.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )


class OperatorForm(forms.Form):
    """Another operator of the night."""

    use_required_attribute = False

    operator = forms.CharField(
        max_length=64, label="Another operator", widget=forms.TextInput(attrs={"autocomplete": "off"})
    )


# A device that somebody brought to a night: its tag, whose it is, and its design or a new recipe.

NEW_DESIGN = "new"

SOMEBODY_NEW = "new"

NOT_CHOSEN = ""

SAME_PERSON_CHOICES = (
    ("", "not asked"),
    ("yes", "yes, the same person"),
    ("no", "no, another person of this name"),
)


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
        help_text="Only for somebody who is not in the list.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
    )
    same_person = forms.ChoiceField(
        required=False,
        choices=SAME_PERSON_CHOICES,
        label="Was this guest here before?",
        help_text="Only for a name that came to an earlier night.",
    )
    origin = forms.ChoiceField(
        required=False, choices=list(wording.ORIGINS.items()), label="Where it comes from"
    )
    design = forms.ChoiceField(label="Design", error_messages={"required": "Choose the design."})
    code = forms.CharField(required=False, max_length=12, widget=forms.HiddenInput())

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
        """Say whether the fields of an unlisted core must be open."""
        return self.is_bound and self.data.get("core_part") == OTHER_CORE
