"""Forms of upkeep: an inspection, a picture, a mark, a step of a fault search, a calendar address."""

from __future__ import annotations

from collections.abc import Collection
from dataclasses import dataclass
from typing import Any

from django import forms
from django.core.files.uploadedfile import UploadedFile
from django.utils import timezone

from measurements.errors import BenchnightError
from measurements.fitness.checklist import CHECKLIST_ITEMS, ChecklistItem
from measurements.fitness.due_events import DUE_EVENTS
from measurements.pages.accounts.forms import ReauthenticationForm
from measurements.pages.guide import contents
from measurements.pages.layout.form_handling import DateInput
from measurements.pages.layout.upkeep_wording import INSPECTION_STATES
from measurements.pages.layout.wording import Badge
from measurements.pages.uploads.forms import DcReadingsField

NOT_LOOKED = "not_looked"
DECIMAL = {"inputmode": "decimal"}


@dataclass(frozen=True)
class ChecklistField:
    """An item of the check list with its answers: code, its word, whether it is the one given.

    faulty: a fault of it stands. asked: this inspection asks for it. picture: good, and what to look for.
    """

    code: str
    title: str
    look: str
    answers: list[tuple[str, Badge, bool]]
    note: forms.BoundField
    faults: list[str]
    picture: contents.GuidePicture
    faulty: bool = False
    asked: bool = False


class InspectionForm(forms.Form):
    """Every item with its answers and a note.

    faulty: items whose fault stands; good takes a note there. asked: items that this inspection asks for.
    """

    use_required_attribute = False

    inspected_on = forms.DateField(label="Inspected on", widget=DateInput())
    dc_ohm = forms.CharField(
        required=False,
        max_length=16,
        label="DC resistance, ohm",
        help_text="Through the winding, without what the leads of the meter add. Comma or point.",
        widget=forms.TextInput(attrs=DECIMAL),
    )
    notes = forms.CharField(
        required=False,
        max_length=4000,
        label="Anything else",
        widget=forms.Textarea(attrs={"rows": 3}),
        help_text="Never published.",
    )

    def __init__(
        self,
        data: Any = None,
        *,
        search: str = "",
        faulty: Collection[str] = (),
        asked: Collection[str] = (),
    ) -> None:
        super().__init__(data, initial={"inspected_on": timezone.localdate()})
        self.search = search
        self.faulty, self.asked = frozenset(faulty), frozenset(asked)
        for item in CHECKLIST_ITEMS:
            self.fields[item.code] = forms.ChoiceField(
                required=False, choices=[(code, said.word) for code, said in INSPECTION_STATES.items()]
            )
            self.fields[f"{item.code}_note"] = forms.CharField(
                required=False,
                max_length=300,
                label=f"Note on {item.title[0].lower() if item.title[:2] != 'DC' else 'D'}{item.title[1:]}",
            )

    def clean(self) -> dict[str, Any]:
        given = super().clean() or self.cleaned_data
        for item in CHECKLIST_ITEMS:
            if item.always and given.get(item.code) == "does_not_apply":
                self.add_error(item.code, "Every device has this. Say how it looks.")
        for code in self.faulty:
            if given.get(code) == "ok" and not given.get(f"{code}_note", "").strip():
                self.add_error(code, "A fault stands here. Say in the note what was done about it.")
        return given

    def clean_dc_ohm(self) -> float | None:
        typed = self.cleaned_data["dc_ohm"].strip().replace(",", ".")
        if not typed:
            return None
        try:
            return float(typed)
        except ValueError as error:
            raise forms.ValidationError("Give a number, such as 0.12.") from error

    def findings(self) -> dict[str, dict[str, str]]:
        """Return as `services.upkeep.inspections` takes them."""
        given = self.cleaned_data
        return {
            item.code: {"state": given[item.code] or NOT_LOOKED, "note": given[f"{item.code}_note"]}
            for item in CHECKLIST_ITEMS
        }

    def list_left_out(self) -> list[str]:
        """Name the asked items without an answer, in the order of the check list."""
        given = self.cleaned_data
        return [
            item.title.lower()
            for item in CHECKLIST_ITEMS
            if item.code in self.asked and (given.get(item.code) or NOT_LOOKED) == NOT_LOOKED
        ]

    def items(self) -> list[ChecklistField]:
        return [self._item(item) for item in CHECKLIST_ITEMS]

    def _item(self, item: ChecklistItem) -> ChecklistField:
        given = (self.data.get(item.code) if self.is_bound else None) or NOT_LOOKED
        return ChecklistField(
            item.code,
            item.title,
            item.look,
            [(code, said, code == given) for code, said in INSPECTION_STATES.items()],
            self[f"{item.code}_note"],
            list(self.errors.get(item.code, [])) if self.is_bound else [],
            contents.build_inspection_picture(item.code),
            item.code in self.faulty,
            item.code in self.asked,
        )


PHOTO_ENDINGS = frozenset({"jpg", "jpeg", "png", "webp"})


class PhotoForm(forms.Form):
    """A picture and what it shows."""

    use_required_attribute = False

    photo = forms.FileField(
        label="Picture",
        help_text="JPEG, PNG or WebP, up to 8 MiB.",
        error_messages={"required": "Choose a picture.", "empty": "This file is empty. Choose another."},
        widget=forms.FileInput(attrs={"accept": "image/jpeg,image/png,image/webp"}),
    )
    caption = forms.CharField(
        required=False, max_length=200, label="What it shows", help_text="Never published."
    )

    def clean_photo(self) -> UploadedFile:
        """Refuse a name that ends as no picture does; the content decides about the rest."""
        sent: UploadedFile = self.cleaned_data["photo"]
        ending = (sent.name or "").rpartition(".")[2].lower()
        if ending not in PHOTO_ENDINGS:
            raise forms.ValidationError(
                "Pictures end in .jpg, .jpeg, .png or .webp. Choose a picture, or correct the ending.",
                code="photo.ending",
            )
        return sent


class CaptionForm(forms.Form):
    """What a picture shows."""

    caption = forms.CharField(required=False, max_length=200, label="What it shows")


class DueForm(forms.Form):
    """What happened, to which devices, and why."""

    use_required_attribute = False

    event = forms.ChoiceField(
        required=False,
        choices=[("other", "Something else"), *((each.code, each.title) for each in DUE_EVENTS[:-1])],
        label="What happened",
        help_text="It says what has to be looked at and tested before the mark is clear.",
    )
    reason = forms.CharField(
        required=False,
        max_length=120,
        label="Why",
        help_text="Owners read it on their devices, such as: storm of 3 May.",
    )
    do = forms.CharField(required=False)

    def clean_event(self) -> str:
        return self.cleaned_data["event"] or "other"

    devices = forms.Field(required=False)


class StepForm(forms.Form):
    """What a test on the way of a fault search needs beside its files."""

    use_required_attribute = False

    measured_on = forms.DateField(label="Measured on", widget=DateInput())
    load_ohm = forms.CharField(
        required=False,
        max_length=16,
        label="Load resistor, as measured, ohm",
        widget=forms.TextInput(attrs=DECIMAL),
    )
    calibrated = forms.ChoiceField(
        required=False,
        choices=(("true", "yes, at the ends of the leads"), ("", "I do not know"), ("false", "no")),
        label="Was the analyser calibrated?",
    )

    antenna_bands = forms.CharField(
        max_length=120,
        label="Bands of this antenna",
        help_text="Such as 40m, 20m. Only these are judged.",
    )
    dc_readings = DcReadingsField(
        max_length=2000,
        label="Readings",
        help_text="One line per reading, such as C A 0.2 and C S open.",
    )

    def __init__(
        self, data: Any = None, *, with_load: bool, with_dc: bool = False, bands: str | None = None
    ) -> None:
        start = {"measured_on": timezone.localdate(), "calibrated": "true", "antenna_bands": bands}
        super().__init__(data, initial=start)
        if bands is None:
            del self.fields["antenna_bands"]
        if not with_load:
            del self.fields["load_ohm"]
        del self.fields["calibrated" if with_dc else "dc_readings"]


class FeedForm(ReauthenticationForm):
    """What an address is for."""

    field_order = ("label", "present")

    label = forms.CharField(
        required=False,
        max_length=64,
        label="What it is for",
        help_text="So that you know later which one to revoke, such as: phone.",
    )


def get_first_fault(error: BenchnightError) -> str:
    """Return the sentence of a fault that belongs to no field of a form."""
    return error.errors[0].detail if len(error.errors) == 1 else error.detail
