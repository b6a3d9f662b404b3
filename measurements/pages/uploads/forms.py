"""The fields that a method asks for beside its files: a number, a partner's test, readings typed in."""

from __future__ import annotations

import json
from dataclasses import dataclass
from typing import Any

from django import forms
from django.utils import timezone

from measurements.pages.designs.forms import OTHER_CORE, RecipeFields
from measurements.pages.layout import wording
from measurements.pages.layout.form_handling import DateInput
from measurements.pages.layout.procedures import SETTINGS, FileField, Procedure, Setting
from measurements.selectors.analysers.analysers import AnalyserRow
from measurements.selectors.designs.rows import DesignRow
from measurements.selectors.devices.devices import DeviceRow
from measurements.selectors.tests.tests import TestRow
from measurements.services.uploads.staging import StagedFile

NO_PARTNERS = "You have none yet: store an insertion loss test of the trusted device first."

MAX_TYPED_CHARACTERS = 20_000


def build_setting_field(asked: Setting, partners: tuple[TestRow, ...]) -> forms.Field:
    """Return the form field of a setting; `partners` are the tests that can be chosen as one."""
    if asked.shape == "partner":
        choices = [(row.key, f"{row.device_tag}, {row.measured_on} ({row.method})") for row in partners]
        empty = "choose a test" if partners else NO_PARTNERS
        return forms.ChoiceField(
            required=False, label=asked.label, help_text=asked.help, choices=[("", empty), *choices]
        )
    if asked.shape == "readings":
        return ReadingsField(
            required=False, max_length=MAX_TYPED_CHARACTERS, label=asked.label, help_text=asked.help
        )
    if asked.shape == "dc":
        return DcReadingsField(
            required=True, max_length=MAX_TYPED_CHARACTERS, label=asked.label, help_text=asked.help
        )
    if asked.shape in _DC_CHOICES:
        return forms.ChoiceField(
            required=False, label=asked.label, help_text=asked.help, choices=_DC_CHOICES[asked.shape]
        )
    if asked.shape == "text":
        return forms.CharField(required=False, max_length=60, label=asked.label, help_text=asked.help)
    return forms.CharField(
        required=False,
        max_length=16,
        label=f"{asked.label}, {asked.unit}",
        help_text=asked.help,
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )


_DC_CHOICES: dict[str, tuple[tuple[str, str], ...]] = {
    "dc_type": (
        ("", "as its design says"),
        ("current_1_1", "1:1 current balun or choke: C to A and S to B only"),
        ("all_joined", "all terminals joined: 4:1 of two lines, voltage balun, autotransformer unun"),
    ),
    "dc_options": (
        ("", "nothing"),
        ("bleeder", "a bleeder"),
        ("arrester", "an arrester that conducts"),
        ("bleeder,arrester", "both"),
    ),
}


class DcReadingsField(forms.CharField):
    """Lines of two terminals and ohms; cleans to the JSON text that the API takes."""

    widget = forms.Textarea(attrs={"rows": 4, "cols": 24, "spellcheck": "false"})

    def clean(self, value: Any) -> str:
        lines = [
            (number, line.strip()) for number, line in enumerate(super().clean(value).splitlines(), start=1)
        ]
        return json.dumps([_parse_dc_line(number, line) for number, line in lines if line])


def _parse_dc_line(number: int, line: str) -> dict[str, Any]:
    words = line.replace(";", " ").replace("\t", " ").split()
    try:
        start, end, read = words
        ohm = None if read.lower() == "open" else float(read.replace(",", "."))
        return {"from": start.upper(), "to": end.upper(), "ohm": ohm}
    except ValueError as error:
        raise forms.ValidationError(
            f"Line {number}: give two terminals and the ohms, such as C A 0.2 or C S open."
        ) from error


class ReadingsField(forms.CharField):
    """Lines of frequency in MHz and value; cleans to the JSON text that the API takes, empty for none."""

    widget = forms.Textarea(attrs={"rows": 4, "cols": 24, "inputmode": "decimal", "spellcheck": "false"})

    def clean(self, value: Any) -> str:
        typed = super().clean(value)
        lines = [(number, line.strip()) for number, line in enumerate(typed.splitlines(), start=1)]
        found = [_parse_reading(number, line) for number, line in lines if line]
        return json.dumps(found) if found else ""


def _parse_reading(number: int, line: str) -> dict[str, float]:
    words = line.replace(";", " ").replace("\t", " ").split()
    try:
        if len(words) != 2:
            raise ValueError
        megahertz, value = (float(word.replace(",", ".")) for word in words)
        return {"frequency_hz": round(megahertz * 1e6, 3), "value": value}
    except ValueError as error:
        raise forms.ValidationError(
            f"Line {number}: give a frequency in MHz and the value, such as 7.1 31.2."
        ) from error


# The upload form: built from the table of procedures, so that it asks for just what a method needs.
#
# Files are not form fields in Django's sense: they go to staging as soon as they arrive (`held`), and
# the form carries their keys, so that an error elsewhere never costs a chosen file.

NEW_DEVICE = "new"
NOT_CHOSEN = ""

CALIBRATED = (
    (NOT_CHOSEN, "choose"),
    ("true", "yes, at the ends of the jig's leads"),
    ("unknown", "I do not know"),
    ("false", "no"),
)


@dataclass(frozen=True)
class FileSlot:
    """A file of the form on the page: its row of the table, its staged content, its errors."""

    field: FileField
    held: StagedFile | None
    faults: list[str]


def get_file_anchor(file: FileField) -> forms.Field:
    """Build the place for the errors of a file, under the name and the id that its own input has on the
    page.
    """
    return forms.Field(
        required=False, label=file.label, widget=forms.TextInput(attrs={"id": f"file_{file.role}"})
    )


def list_analyser_choices(analysers: tuple[AnalyserRow, ...]) -> list[tuple[str, str]]:
    """Return the described analysers to choose from, after none of them."""
    return [("", "not described"), *((row.key, row.name) for row in analysers)]


class UploadForm(RecipeFields):
    """One test of one device."""

    use_required_attribute = False

    device = forms.ChoiceField(label="Device", error_messages={"required": "Choose the device."})
    tag = forms.CharField(
        required=False, max_length=64, label="Tag", help_text="What is written on it. It is never published."
    )
    origin = forms.ChoiceField(
        required=False, choices=list(wording.ORIGINS.items()), label="Where it comes from"
    )
    measured_on = forms.DateField(label="Measured on", widget=DateInput())
    calibrated = forms.ChoiceField(
        choices=CALIBRATED,
        label="Was the analyser calibrated?",
        error_messages={"required": "Say whether the analyser was calibrated."},
    )
    analyser = forms.ChoiceField(
        required=False,
        label="Analyser",
        help_text="One that you described. Without one, more figures are too close to call.",
    )
    benchmark_db = forms.CharField(
        required=False,
        max_length=8,
        label="Benchmark, dB",
        help_text="Empty: the group's own. It changes what this page says, not what counts as evidence.",
        widget=forms.TextInput(attrs={"inputmode": "decimal"}),
    )

    def __init__(
        self,
        procedure: Procedure,
        devices: tuple[DeviceRow, ...],
        *,
        data: Any = None,
        held: dict[str, StagedFile] | None = None,
        initial: dict[str, Any] | None = None,
        design: DesignRow | None = None,
        partners: tuple[TestRow, ...] = (),
        analysers: tuple[AnalyserRow, ...] = (),
    ) -> None:
        # who has no device can only describe one; nothing else that decides evidence is chosen beforehand
        start = {"device": NOT_CHOSEN if devices else NEW_DEVICE, "measured_on": timezone.localdate()}
        super().__init__(data, initial={**start, **(initial or {})})
        self.procedure = procedure
        self.design = design
        self.held = held or {}
        self.order_fields(["device", "tag", "origin", *RecipeFields.base_fields])
        self.fields["device"].choices = [  # type: ignore[attr-defined]
            *([(NOT_CHOSEN, "choose a device")] if devices else []),
            *((row.key, f"{row.tag}: {row.design_title}") for row in devices),
            (NEW_DEVICE, "a new device, described below"),
        ]
        self.fill_choices()
        for name in procedure.settings:
            self.fields[name] = build_setting_field(SETTINGS[name], partners)
        if procedure.kind != "common_mode":
            del self.fields["benchmark_db"]
        self.fields["analyser"].choices = list_analyser_choices(analysers)  # type: ignore[attr-defined]
        if not procedure.files:  # nothing was swept
            del self.fields["calibrated"], self.fields["analyser"]
        for each in procedure.files:  # a fault of a file is shown beside it
            self.fields[each.role] = get_file_anchor(each)

    def clean(self) -> dict[str, Any]:
        cleaned = super().clean() or self.cleaned_data
        typed_in = bool(cleaned.get("readings")) or self.has_error("readings")
        for each in self.procedure.files:
            if (
                each.required
                and not typed_in
                and each.role not in self.held
                and not self.has_error(each.role)
            ):
                self.add_error(each.role, "Choose this file.")
        if not self.is_new:
            return cleaned
        for name, wanted in (("tag", "Say what is written on the device."), ("turns", "Count the turns.")):
            needed = name == "tag" or self.design is None
            if needed and not cleaned.get(name) and not self.has_error(name):
                self.add_error(name, wanted)
        if self.design is None and not cleaned.get("core_part"):
            self.add_error("core_part", "Choose the core, or 'not listed' and give its size.")
        return cleaned

    @property
    def is_new(self) -> bool:
        """Say whether a new device is described; before anything is sent, what the form starts with."""
        chosen = self.data.get("device") if self.is_bound else self.initial["device"]
        return chosen == NEW_DEVICE

    def setting_texts(self, ratio: str) -> dict[str, Any]:
        """Return the settings as `services.uploads.uploads` takes them."""
        names = (*self.procedure.settings, "calibrated", "analyser", "benchmark_db")
        texts = {name: self.cleaned_data.get(name, "") for name in names}
        if texts["calibrated"] == "unknown":
            texts["calibrated"] = ""
        return {"kind": self.procedure.kind, "method": self.procedure.method, "ratio": ratio, **texts}

    def slots(self) -> list[FileSlot]:
        """List the files that the form shows open."""
        return [self._slot(each) for each in self.procedure.main_files]

    def jig_slots(self) -> list[FileSlot]:
        return [self._slot(each) for each in self.procedure.jig_files]

    def setting_fields(self) -> list[forms.BoundField]:
        return [self[name] for name in self.procedure.settings]

    @property
    def core_folded_open(self) -> bool:
        """Say whether the fields of an unlisted core must be open."""
        at_fault = any(
            self.has_error(name) for name in ("core_shape", "core_mix", "outer_mm", "inner_mm", "height_mm")
        )
        return self.is_bound and (at_fault or self.data.get("core_part") == OTHER_CORE)

    @property
    def rest_folded_open(self) -> bool:
        """Say whether the rarest fields must be open."""
        return self.is_bound and any(self.has_error(name) for name in ("separate", "principle", "split"))

    @property
    def jig_unfolded(self) -> bool:
        """Say whether the folded jig files must be open: something is in there."""
        return any(slot.held or slot.faults for slot in self.jig_slots())

    def _slot(self, field: FileField) -> FileSlot:
        faults = list(self.errors.get(field.role, [])) if self.is_bound else []
        return FileSlot(field, self.held.get(field.role), faults)
